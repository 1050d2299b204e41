"""Packed values: many structs of one type as bytes, in a tenth of their room; each is made when asked for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any, TypeVar, overload
from zlib import compress, decompress

from msgspec import Struct, msgpack

Item = TypeVar("Item", bound=Struct)
#: values that are packed, and made again, together.
_TOGETHER = 64
#: so many are kept as they are: to make them anew would take a fifth of a run.
_FEW = 1 << 13
#: a level of zlib: features of one program have much in common, and little is gained by looking longer.
_FASTEST = 1


class Packed(Sequence[Item]):
    """Structs of one type, packed as they come: what comes out is equal, and not the same object.

    They equal any sequence of equal structs. Python's own objects would not only take more room: few that
    are kept among many that are not hold back the memory of all.
    """

    def __init__(self, kind: type[Item], items: Iterable[Item] = ()) -> None:
        """Pack them."""
        self._decoder = msgpack.Decoder(tuple[kind, ...])  # type: ignore[valid-type]
        self._count = 0
        self._parts: list[bytes | tuple[Item, ...]] = []
        items = iter(items)
        while some := tuple(islice(items, _TOGETHER)):
            self._parts.append(some)
            self._count += len(some)
            if self._count > _FEW:  # with what was few so far, or this alone
                first = 0 if self._count - len(some) <= _FEW else -1
                self._parts[first:] = [_packed(part) for part in self._parts[first:]]
        self._last: tuple[int, tuple[Item, ...]] = -1, ()

    def __len__(self) -> int:
        """How many there are."""
        return self._count

    @overload
    def __getitem__(self, at: int) -> Item: ...

    @overload
    def __getitem__(self, at: slice) -> tuple[Item, ...]: ...

    def __getitem__(self, at: int | slice) -> Item | tuple[Item, ...]:
        """One of them, or some as a tuple; raises IndexError past the end."""
        places = range(self._count)[at]
        if isinstance(places, range):
            return tuple(self[k] for k in places)
        part, place = divmod(places, _TOGETHER)
        if self._last[0] != part:  # what is asked for next is mostly beside it
            self._last = part, self._made(self._parts[part])
        return self._last[1][place]

    def __iter__(self) -> Iterator[Item]:
        """All of them, in order."""
        for part in self._parts:
            yield from self._made(part)

    def _made(self, part: bytes | tuple[Item, ...]) -> tuple[Item, ...]:
        return self._decoder.decode(decompress(part)) if isinstance(part, bytes) else part

    def __eq__(self, other: object) -> bool:
        """Whether these are the same as those of another sequence."""
        if not isinstance(other, Packed | tuple | list):
            return NotImplemented
        return len(self) == len(other) and all(a == b for a, b in zip(self, other, strict=True))

    def __hash__(self) -> int:
        """As the tuple of them."""
        return hash(tuple(self))

    def __repr__(self) -> str:
        """As the tuple of them."""
        return repr(tuple(self))


def _packed(some: bytes | tuple[Item, ...]) -> bytes | tuple[Item, ...]:
    """Some of them packed; as they are where msgpack has no form for one, as for text that is no Unicode."""
    try:
        return compress(_ENCODER.encode(some), _FASTEST)
    except (AttributeError, OverflowError, TypeError, ValueError):
        return some


def _plain(value: Any) -> Any:
    """A number of numpy's as one of Python's."""
    return value.item()


_ENCODER = msgpack.Encoder(enc_hook=_plain)
