"""Frozen classes of plain fields, ready in a sixth of the time that `dataclasses` takes.

`dataclass(frozen=True, slots=True)` of this module makes what that of the standard library makes:
the same fields, comparison, hash, text, pickle, `fields`, `replace` and `asdict`. The library
compiles six functions for every class in every process, and the two hundred classes of one command
would take longer than its decision. Here the functions are shared, and `__init__` is compiled when
the first of a class is made. Whatever else is asked for is handed to the library as it is.
"""

from __future__ import annotations

import dataclasses
from dataclasses import FrozenInstanceError, field
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any

__all__ = ["dataclass", "field"]

_NO_FIELDS = ("ClassVar", "InitVar", "KW_ONLY")
_OF_THE_LIBRARY = ("__dataclass_fields__", "__dataclass_params__")
_SHARED = ("__init__", "__repr__", "__eq__", "__hash__", "__setattr__", "__delattr__")

if TYPE_CHECKING:
    from dataclasses import dataclass
else:

    def dataclass(cls=None, /, **asked):
        """As `dataclasses.dataclass`."""

        def made(cls):
            if asked == {"frozen": True, "slots": True} and _is_plain(cls):
                return _record(cls)
            return dataclasses.dataclass(**asked)(cls)

        return made if cls is None else made(cls)


def _is_plain(cls: type) -> bool:
    """Whether a class has nothing but fields that are given to `__init__` one after the other."""
    if any(hasattr(base, name) for base in cls.__bases__ for name in _OF_THE_LIBRARY):
        return False
    if any(name in vars(cls) for name in (*_SHARED[:3], *_SHARED[4:], "__slots__")):
        return False
    if vars(cls).get("__hash__") is not None:
        return False
    for name, kind in vars(cls).get("__annotations__", {}).items():
        if any(word in str(kind) for word in _NO_FIELDS):
            return False
        given = vars(cls).get(name)
        if isinstance(given, dataclasses.Field) and not (
            given.init and given.hash is None and given.kw_only is not True
        ):
            return False
        if given.__class__.__hash__ is None:
            # The library refuses such a default, with its own words.
            return False
    return True


class _OnceAsked:
    """What the library keeps with a class, made when somebody asks: its `fields`, for one."""

    def __init__(
        self, name: str, annotations: dict[str, Any], given: dict[str, Any], *, frozen: bool
    ) -> None:
        self._name = name
        self._annotations = annotations
        self._given = given
        self._frozen = frozen
        self._found: Any = None

    def __get__(self, instance: object, owner: type) -> Any:
        if self._found is None:
            space = {"__annotations__": self._annotations, "__doc__": "-", **self._given}
            shadow: Any = type(owner.__name__, (), {"__module__": owner.__module__, **space})
            # The fields are the same whether frozen or not, and there quicker.
            dataclasses.dataclass(frozen=self._frozen, eq=False, repr=False, init=False)(shadow)
            self._found = getattr(shadow, self._name)
        return self._found


def _record(cls: type) -> type:
    annotations: dict[str, Any] = dict(vars(cls).get("__annotations__", {}))
    names = tuple(annotations)
    space = dict(vars(cls))
    given = {name: space.pop(name) for name in names if name in space}
    space.pop("__dict__", None)
    space.pop("__weakref__", None)
    fields = {name: each for name, each in given.items() if isinstance(each, dataclasses.Field)}
    compared = [name for name in names if name not in fields or fields[name].compare]
    shown = [name for name in names if name not in fields or fields[name].repr]
    values, all_values = _getter(compared), _getter(names)

    def __init__(self: Any, *args: Any, **kwargs: Any) -> None:
        record.__init__ = _initialiser(record, names, given)
        record.__init__(self, *args, **kwargs)

    @recursive_repr()
    def __repr__(self: Any) -> str:
        parts = ", ".join(f"{name}={getattr(self, name)!r}" for name in shown)
        return f"{self.__class__.__qualname__}({parts})"

    def __eq__(self: Any, other: Any) -> Any:
        if other.__class__ is self.__class__:
            return values(self) == values(other)
        return NotImplemented

    def __hash__(self: Any) -> int:
        return hash(values(self))

    def __setattr__(self: Any, name: str, value: object) -> None:
        if type(self) is record or name in annotations:
            raise FrozenInstanceError(f"cannot assign to field {name!r}")
        object.__setattr__(self, name, value)

    def __delattr__(self: Any, name: str) -> None:
        if type(self) is record or name in annotations:
            raise FrozenInstanceError(f"cannot delete field {name!r}")
        object.__delattr__(self, name)

    def __getstate__(self: Any) -> list[Any]:
        return list(all_values(self))

    def __setstate__(self: Any, state: list[Any]) -> None:
        for name, value in zip(names, state, strict=True):
            object.__setattr__(self, name, value)

    for function in (
        __init__, __repr__, __eq__, __hash__, __setattr__, __delattr__, __getstate__, __setstate__,
    ):  # fmt: skip
        function.__qualname__ = f"{cls.__qualname__}.{function.__name__}"
        space.setdefault(function.__name__, function)
    space["__hash__"] = __hash__
    space["__match_args__"] = names
    space["__slots__"] = names
    for name in _OF_THE_LIBRARY:
        space[name] = _OnceAsked(name, annotations, given, frozen=name != _OF_THE_LIBRARY[0])
    record: Any = type(cls)(cls.__name__, cls.__bases__, space)
    record.__qualname__ = cls.__qualname__
    return record  # type: ignore[no-any-return]


def _getter(names: Any) -> Any:
    if len(names) > 1:
        return attrgetter(*names)
    return lambda each: tuple(getattr(each, name) for name in names)


def _initialiser(record: type, names: tuple[str, ...], given: dict[str, Any]) -> Any:
    """`__init__` of a class: it takes the fields in order or by name, as the library's does."""
    space: dict[str, Any] = {"_put": object.__setattr__, "_missing": dataclasses.MISSING}
    taken, lines = ["self"], []
    for name in names:
        default: Any = given.get(name, dataclasses.MISSING)
        made: Any = dataclasses.MISSING
        if isinstance(default, dataclasses.Field):
            default, made = default.default, default.default_factory
        if made is not dataclasses.MISSING:
            space[f"_new_{name}"] = made
            taken.append(f"{name}=_missing")
            lines.append(f"_put(self, {name!r}, _new_{name}() if {name} is _missing else {name})")
            continue
        if default is not dataclasses.MISSING:
            space[f"_default_{name}"] = default
            taken.append(f"{name}=_default_{name}")
        else:
            taken.append(name)
        lines.append(f"_put(self, {name!r}, {name})")
    if hasattr(record, "__post_init__"):
        lines.append("self.__post_init__()")
    body = "\n    ".join(lines or ["pass"])
    exec(f"def __init__({', '.join(taken)}):\n    {body}", space)
    space["__init__"].__qualname__ = f"{record.__qualname__}.__init__"
    return space["__init__"]
