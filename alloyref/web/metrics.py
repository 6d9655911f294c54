"""Counts for Prometheus, added up over all workers."""

from __future__ import annotations

import os

MULTIPROCESS = "PROMETHEUS_MULTIPROC_DIR"
"""Where the client library keeps the counts of each worker; `alloyref serve` sets it."""

METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS"})
"""A caller may invent methods, but no new counts by it."""


class Metrics:
    """Requests by route, method and status, how long they took, and the answers that were kept ready."""

    def __init__(self) -> None:
        # Only where metrics are asked for: the library looks at its environment when it is loaded.
        from prometheus_client import CollectorRegistry, Counter, Histogram  # noqa: PLC0415
        from prometheus_client.exposition import CONTENT_TYPE_LATEST  # noqa: PLC0415

        self.content_type: str = CONTENT_TYPE_LATEST
        self._registry = CollectorRegistry()
        labels = ("route", "method", "status")
        self._requests = Counter("alloyref_requests", "Requests answered.", labels, registry=self._registry)
        self._seconds = Histogram(
            "alloyref_request_seconds",
            "Time to answer.",
            ("route",),
            registry=self._registry,
            buckets=(0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3),
        )
        self._ready = Counter("alloyref_ready_answers", "Answers given again, kept ready.", registry=self._registry)

    def count(self, route: str, method: str, status: int, seconds: float) -> None:
        """Note one request."""
        self._requests.labels(route, method if method in METHODS else "other", str(status)).inc()
        self._seconds.labels(route).observe(seconds)

    def ready(self) -> None:
        """Note one answer given without asking the application."""
        self._ready.inc()

    def text(self) -> bytes:
        """All counts in Prometheus' text form."""
        from prometheus_client import CollectorRegistry, generate_latest  # noqa: PLC0415
        from prometheus_client.multiprocess import MultiProcessCollector  # noqa: PLC0415

        if MULTIPROCESS not in os.environ:
            return generate_latest(self._registry)
        whole = CollectorRegistry()
        MultiProcessCollector(whole)  # type: ignore[no-untyped-call]
        return generate_latest(whole)
