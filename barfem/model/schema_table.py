"""What every table of the bar file is: keys that are not known are refused, and it knows which were given.

Modules of tables leave annotations as they stand (no `from __future__ import annotations`): as text, pydantic would
evaluate each at every start.
"""

from typing import Any

from pydantic import BaseModel, ConfigDict

__all__ = ["Table"]


class Table(BaseModel):
    """Any table of the bar file. A field's description is what a message offers when the key is missing."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def given(self) -> dict[str, Any]:
        """The keys that the file gives, with their converted values."""
        return {key: getattr(self, key) for key in type(self).model_fields if key in self.model_fields_set}
