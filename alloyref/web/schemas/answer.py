"""The envelope of every calculation: result, inputs as understood, assumptions, cautions, dataset."""

from __future__ import annotations

from typing import Any

from alloyref.domain.calculation import asked_unit
from alloyref.domain.reference import DatasetVersion
from alloyref.services.calculations import Answer
from alloyref.web.schemas.write import Writers


def dataset_json(dataset: DatasetVersion) -> dict[str, str]:
    """Which data an answer rests on."""
    return {"version": dataset.version, "hash": dataset.hash}


def answer_json(answer: Answer, writers: Writers) -> dict[str, Any]:
    """A calculation's answer as plain JSON values."""
    outcome = answer.outcome
    in_unit = writers.answering_in(asked_unit(answer.inputs))
    return {
        "result": in_unit.record(answer.calculation.result)(outcome.result),
        "inputs": writers.record(answer.calculation.inputs)(answer.inputs),
        "assumptions": [writers.assumption(one) for one in outcome.assumptions],
        "cautions": [writers.caution(one) for one in outcome.cautions],
        "dataset": dataset_json(answer.dataset),
    }
