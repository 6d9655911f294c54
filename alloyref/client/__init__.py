"""A client for the service: typed answers, patience, and nothing but HTTP."""

from alloyref.client.http import Client
from alloyref.client.patience import Patience
from alloyref.client.problem import Issue, ServiceProblem
from alloyref.client.summary import BrokenAnswer
from alloyref.client.transport import NoService
from alloyref.client.values import Alloy, Answer, Assumption, Caution, Dataset, Money, Quantity

__all__ = [
    "Alloy",
    "Answer",
    "Assumption",
    "BrokenAnswer",
    "Caution",
    "Client",
    "Dataset",
    "Issue",
    "Money",
    "NoService",
    "Patience",
    "Quantity",
    "ServiceProblem",
]
