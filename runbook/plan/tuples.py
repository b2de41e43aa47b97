"""Named tuples that cost next to nothing until the first of them is made.

Every value here is a named tuple, and a program has some two hundred kinds of them. What the
standard library does for each as its module is read (compile a constructor, look at every
annotation) takes 0.3 ms: a third of all the time ``runbook check`` had. Here a class is a tuple
with named fields and no more; its constructor is compiled when its first value is made. To a
person, a type checker and every caller it is ``typing.NamedTuple``.
"""

from __future__ import annotations

import sys
from functools import cache
from types import FunctionType
from typing import TYPE_CHECKING

__all__ = ["NamedTuple"]

# from Python 3.14 on, annotations are not there to be read while a class is made
if TYPE_CHECKING or sys.version_info >= (3, 14):
    from typing import NamedTuple
else:
    from _collections import _tuplegetter

    @cache
    def _constructor_of(count):
        """A ``__new__`` of so many fields, by no name yet."""
        values = "".join(f"_{n}, " for n in range(count))
        names = {"_make": tuple.__new__}
        exec(f"def __new__(_cls, {values}): return _make(_cls, ({values}))", names)
        return names["__new__"]

    def _constructor(cls):
        """The ``__new__`` of one class: one of so many fields, under their names."""
        new = _constructor_of(len(cls._fields))
        code = new.__code__.replace(co_varnames=("_cls", *cls._fields))
        return FunctionType(code, new.__globals__, "__new__", tuple(cls._field_defaults.values()))

    class _Values(tuple):
        __slots__ = ()

        def __new__(cls, *values, **named):
            new = _constructor(cls)
            cls.__new__ = staticmethod(new)
            return new(cls, *values, **named)

        @classmethod
        def _make(cls, values):
            return cls(*values)

        def _replace(self, /, **named):
            values, places = list(self), self._places
            for name, value in named.items():
                if name not in places:
                    raise ValueError(f"no field {name} in {type(self).__name__}")
                values[places[name]] = value
            return tuple.__new__(type(self), values)

        def _asdict(self):
            return dict(zip(self._fields, self, strict=True))

        def __getnewargs__(self):
            return tuple(self)

        def __repr__(self):
            said = ", ".join(f"{name}={value!r}" for name, value in self._asdict().items())
            return f"{type(self).__name__}({said})"

    class _Kind(type):
        """Makes the class; what it makes is a plain class, as any other tuple's."""

        def __new__(cls, name, _bases, space):
            fields = tuple(space.get("__annotations__", ()))
            space["_field_defaults"] = {name: space.pop(name) for name in fields if name in space}
            space |= {name: _tuplegetter(n, None) for n, name in enumerate(fields)}
            space["_places"] = {name: n for n, name in enumerate(fields)}
            space |= {"_fields": fields, "__match_args__": fields, "__slots__": ()}
            return type(name, (_Values,), space)

    NamedTuple = type.__new__(_Kind, "NamedTuple", (), {})
