"""What a key of a day's files may hold: the types of the fields of a plan's values.

``Annotated[float, Field(gt=0)]`` is checked by pydantic where a file is read (see ``validate``).
"""

import datetime as dt
from typing import Annotated, Any

from pydantic import Field, Strict, StringConstraints

# No length, mass or time of a studio comes near these; without them a slip of the finger could
# overflow, or vanish in, every sum that squares it.
LEAST, MOST = 1e-6, 1e9
_DASHES = {ord("-"): "0", ord("_"): "0"}


def about(description: str, **more: Any) -> Any:
    """Return what a form and the documentation say of a field, with its bounds and its key where that is another."""
    return Field(description=description, **more)


Text = Annotated[str, Strict()]
Flag = Annotated[bool, Strict()]
Date = Annotated[dt.date, Strict()]
Time = Annotated[dt.time, Strict()]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Whole = Annotated[int, Strict()]
Id = Annotated[str, StringConstraints(strict=True, pattern=r"^[A-Za-z0-9_-]{1,24}$")]
Label = Annotated[Id, about("the label on it")]
Name = Annotated[Text, about("what you call it")]
Positive = Annotated[Number, Field(ge=LEAST, le=MOST)]
NotNegative = Annotated[Number, Field(ge=0, le=MOST)]
Share = Annotated[Number, Field(ge=0, le=1)]
Stops = Annotated[Number, Field(ge=-40, le=40)]
Count = Annotated[Whole, Field(ge=0, le=1_000_000)]


def is_id(text: str) -> bool:
    """Whether a text has the form of an id: what ``Id`` matches, without a pattern to compile."""
    return 1 <= len(text) <= 24 and text.isascii() and text.translate(_DASHES).isalnum()
