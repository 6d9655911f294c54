"""Bodies that schemathesis cannot write by itself: rows of JSON are sent as the text they are."""

import schemathesis


@schemathesis.serializer("application/x-ndjson")
def as_it_is(context: schemathesis.SerializationContext, value: object) -> bytes:
    """The text of a body."""
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "replace")
