"""The contract with other programs: an answer as JSON, its shape, how it is written and read back."""

from autoplan.report.contract.writing import json_text, outcome_json, write_json

__all__ = ["json_text", "outcome_json", "write_json"]
