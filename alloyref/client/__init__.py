"""A small client for the service, over HTTP only."""

from alloyref.client.http import Client, ServiceProblem
from alloyref.client.summary import BrokenAnswer

__all__ = ["BrokenAnswer", "Client", "ServiceProblem"]
