"""A small client for the service, over HTTP only."""

from alloyref.client.http import Client, ServiceProblem

__all__ = ["Client", "ServiceProblem"]
