"""The articulation map as a document: how one virtual instrument plays marks."""

from __future__ import annotations

import re
from functools import lru_cache, partial
from itertools import pairwise
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, Discriminator, Field, Tag, ValidationInfo, WithJsonSchema, model_validator
from pydantic_core import PydanticCustomError

from rendering.documents import TAG, DocumentModel, Line, Name, shown
from rendering.maps.keys import NAME, readings
from rendering.marks import BIT, EITHER, nearest

_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
_SOUND = re.compile(r"([a-z0-9]+(-[a-z0-9]+)*)(\.[a-z0-9]+(-[a-z0-9]+)*)*")


def _id(text: str) -> str:
    if not _ID.fullmatch(text):
        raise PydanticCustomError("id_spelling", "id")
    return text


def _sound(text: str) -> str:
    if text and (len(text) > 100 or not _SOUND.fullmatch(text)):
        raise PydanticCustomError("sound_spelling", "sound")
    return text


@lru_cache(maxsize=1024)
def _nearest(text: str) -> str:
    return ", ".join(nearest(text))


def _mark(text: str) -> str:
    if text not in BIT and text not in EITHER:
        raise PydanticCustomError("unknown_mark", "mark", {"text": shown(text), "nearest": partial(_nearest, text[:100])})
    return text


def _begin(kind: str, info: ValidationInfo) -> str:
    """Forget the convention of a map that was read before this one in the same body."""
    if isinstance(info.context, dict):
        info.context.pop("middle_c", None)
    return kind


def _middle_c(value: str, info: ValidationInfo) -> str:
    """Leave the convention in the context, where every key of the fields after this one finds it."""
    if isinstance(info.context, dict):
        info.context["middle_c"] = value
    return value


def _key(value: Any, info: ValidationInfo) -> Any:
    if not isinstance(value, str):
        return value
    found = readings(value)
    if found is None:
        raise PydanticCustomError("key_name", "key", {"text": shown(value)})
    if info.context is None:  # whoever reads without one would take every map's names as counted from C4
        raise PydanticCustomError("key_unread", "names of keys are read by a document's reader")
    middle_c = info.context.get("middle_c", "C4")
    if not 0 <= found[middle_c] <= 127:
        said = {name.lower(): key for name, key in found.items()}
        raise PydanticCustomError("key_range", "key", {"text": shown(value), "middle_c": middle_c, **said})
    return found[middle_c]


Id = Annotated[str, AfterValidator(_id), WithJsonSchema({"type": "string", "pattern": f"^{_ID.pattern}$"})]
Sound = Annotated[str, AfterValidator(_sound), WithJsonSchema({"type": "string", "maxLength": 100, "pattern": f"^({_SOUND.pattern})?$"})]
MarkName = Annotated[str, AfterValidator(_mark), WithJsonSchema({"type": "string", "enum": sorted([*BIT, *EITHER])})]
Byte = Annotated[int, Field(ge=0, le=127)]
KeyAsSent = Annotated[int, Field(ge=0, le=127)] | Annotated[str, Field(pattern=f"^{NAME.pattern}$")]
Key = Annotated[int, Field(ge=0, le=127), BeforeValidator(_key, json_schema_input_type=KeyAsSent)]
Velocity = Annotated[int, Field(ge=1, le=127)]
Level = Annotated[int, Field(ge=0, le=1000)]
Milliseconds = Annotated[int, Field(ge=0, le=10_000)]
Length = Annotated[int, Field(ge=0, le=600_000)]


def _kind_of(value: Any, kinds: dict[str, Any]) -> str | None:
    """Return the tag of the one kind key that a document's object or a model has; None if not exactly one."""
    if isinstance(value, BaseModel):
        return next(TAG + kind for kind, model in kinds.items() if type(value) is model)
    found = [kind for kind in kinds if isinstance(value, dict) and kind in value]
    return TAG + found[0] if len(found) == 1 else None


# ── Triggers: each is an object with exactly one kind key, its first field ──


class Keyswitch(DocumentModel):
    """A key that is pressed: latched (`hold` no), held over the note-on or the whole note, or a toggle."""

    keyswitch: Key
    velocity: Velocity = 100
    hold: Literal["no", "note-on", "note"] = "no"
    ahead_ms: Milliseconds = 10
    length_ms: Annotated[int, Field(ge=1, le=10_000)] = 20
    toggle: bool = False


def _value_kind(value: Any) -> str | None:
    if isinstance(value, int) and not isinstance(value, bool):
        return TAG + "value"
    return TAG + "band" if isinstance(value, list | tuple) else None


ControllerValue = Annotated[
    Annotated[Byte, Tag(TAG + "value")] | Annotated[tuple[Byte, Byte], Tag(TAG + "band")],
    Discriminator(_value_kind, custom_error_type="value_kind", custom_error_message="value"),
]


class Controller(DocumentModel):
    """A controller value; of a band (both ends included) the middle is sent and all of it is heard."""

    controller: Byte
    value: ControllerValue = 127

    @property
    def band(self) -> tuple[int, int]:
        """Lowest and highest value that is heard."""
        return (self.value, self.value) if isinstance(self.value, int) else self.value


class Program(DocumentModel):
    """A program change, after the bank bytes that are given; all count from 0."""

    program: Byte
    bank_msb: Byte | None = None
    bank_lsb: Byte | None = None


class Channel(DocumentModel):
    """An absolute MIDI channel, 1-16, on which the articulation is played."""

    channel: Annotated[int, Field(ge=1, le=16)]


class Velocities(DocumentModel):
    """A band of velocities, both ends included; loudness is folded into it."""

    velocities: tuple[Velocity, Velocity]


class Shift(DocumentModel):
    """Another key zone: semitones added to the key that is sent."""

    shift: Annotated[int, Field(ge=-127, le=127)]


class Track(DocumentModel):
    """A label that the template links to another of its tracks."""

    track: Name


TRIGGERS: dict[str, Any] = {
    "keyswitch": Keyswitch, "controller": Controller, "program": Program, "channel": Channel,
    "velocities": Velocities, "shift": Shift, "track": Track,
}  # fmt: skip
AnyTrigger = Keyswitch | Controller | Program | Channel | Velocities | Shift | Track


def _trigger_kind(value: Any) -> str | None:
    return _kind_of(value, TRIGGERS)


Trigger = Annotated[
    Annotated[Keyswitch, Tag(TAG + "keyswitch")]
    | Annotated[Controller, Tag(TAG + "controller")]
    | Annotated[Program, Tag(TAG + "program")]
    | Annotated[Channel, Tag(TAG + "channel")]
    | Annotated[Velocities, Tag(TAG + "velocities")]
    | Annotated[Shift, Tag(TAG + "shift")]
    | Annotated[Track, Tag(TAG + "track")],
    Discriminator(_trigger_kind, custom_error_type="trigger_kind", custom_error_message="trigger"),
]


# ── Loudness ──


def _rising(points: tuple[tuple[int, int], ...]) -> tuple[tuple[int, int], ...]:
    if any(a[0] >= b[0] for a, b in pairwise(points)):
        raise PydanticCustomError("loudness_points", "points")
    return points


Points = Annotated[tuple[tuple[Level, Byte], ...], Field(min_length=1, max_length=1001), AfterValidator(_rising)]


class ByVelocity(DocumentModel):
    """Loudness through velocity: `points` are (level in thousandths, velocity), linear between them."""

    by: Literal["velocity"]
    points: Points
    silence: Byte | None = None


class ByController(DocumentModel):
    """Loudness through a controller: `points` are (level, value); every note has the same velocity."""

    by: Literal["controller"]
    controller: Byte
    points: Points
    velocity: Velocity = 100
    silence: Byte | None = None


class ByBoth(DocumentModel):
    """Loudness through a controller (`points`) and velocity: `velocity_points`, else the constant, else `points`."""

    by: Literal["both"]
    controller: Byte
    points: Points
    velocity: Velocity | None = None
    velocity_points: Points | None = None
    silence: Byte | None = None

    @model_validator(mode="after")
    def _one_velocity(self) -> ByBoth:
        if self.velocity is not None and self.velocity_points is not None:
            raise PydanticCustomError("velocity_twice", "velocity")
        return self


LOUDNESS: dict[str, Any] = {"velocity": ByVelocity, "controller": ByController, "both": ByBoth}


def _loudness_kind(value: Any) -> str | None:
    by = value.get("by") if isinstance(value, dict) else getattr(value, "by", None)
    return TAG + by if isinstance(by, str) and by in LOUDNESS else None


Loudness = Annotated[
    Annotated[ByVelocity, Tag(TAG + "velocity")] | Annotated[ByController, Tag(TAG + "controller")] | Annotated[ByBoth, Tag(TAG + "both")],
    Discriminator(_loudness_kind, custom_error_type="loudness_kind", custom_error_message="loudness"),
]
# With this line a level of p, mf, f gives the velocities 48, 64, 95.
DEFAULT_LOUDNESS = ByVelocity(by="velocity", points=((0, 1), (1000, 127)))


# ── Articulations ──


class Lead(DocumentModel):
    """How long after note-on the sample is heard as struck, in ms; a connected note's, if it differs."""

    first: Milliseconds = 0
    connected: Milliseconds | None = None


class Limits(DocumentModel):
    """What happens to the written length: a share in thousandths, and a longest length."""

    scale: Annotated[int, Field(ge=1, le=4000)] = 1000
    at_most_ms: Annotated[int, Field(ge=1, le=600_000)] | None = None


class When(DocumentModel):
    """When an articulation is played: half-open bounds [from, to), null = no bound."""

    ms: tuple[Length | None, Length | None] = (None, None)
    keys: tuple[Key | None, Key | None] = (None, None)
    level: tuple[Level | None, Level | None] = (None, None)


class Range(DocumentModel):
    """Lowest and highest sounding key, both included."""

    lowest: Key = 0
    highest: Key = 127


class Articulation(DocumentModel):
    """One entry of a map: the marks it plays, the memory it lives in, and how to get it."""

    id: Id
    name: Line = ""
    memory: Id
    plays: Annotated[tuple[Annotated[tuple[MarkName, ...], Field(min_length=1, max_length=20)], ...], Field(max_length=100)] = ()
    triggers: Annotated[tuple[Trigger, ...], Field(max_length=40)] = ()
    acts_on: Literal["next", "sounding"] = "next"
    with_: tuple[Id, ...] = Field(default=(), alias="with", max_length=20)
    resets: tuple[Id, ...] = Field(default=(), max_length=20)
    together: bool = False
    when: When = When()
    range: Range | None = None
    key: Key | None = None
    voices: Annotated[int, Field(ge=1, le=128)] | None = None
    lead_ms: Lead = Lead()
    overlap_ms: Milliseconds = 0
    gap_ms: Milliseconds = 20
    joins: bool = False
    length: Limits = Limits()
    loudness: Loudness | None = None
    alternates: tuple[Id, ...] = Field(default=(), max_length=20)
    strike: Sound = ""
    rings: bool = False
    damp: Key | None = None
    syllable: Line = ""


class Memory(DocumentModel):
    """One thing that the sampler remembers independently of the rest; `default` is active at the start."""

    id: Id
    default: Id


class StandIn(DocumentModel):
    """Marks to play instead of one that no articulation plays, best first."""

    for_: MarkName = Field(alias="for")
    use: Annotated[tuple[MarkName, ...], Field(min_length=1, max_length=20)]


class ArticulationMap(DocumentModel):
    """How one virtual instrument plays marks: its articulations with their triggers.

    Keys are numbers 0-127, or names read in `middle_c` and kept as numbers; `range` is in sounding keys,
    switches are in sent keys (sounding key + `key_offset` + shift).
    """

    most_values: ClassVar[int] = 100_000

    kind: Annotated[Literal["articulation-map"], AfterValidator(_begin)]
    edition: Literal[1]
    name: Name
    sound: Sound = ""
    players: Literal["solo", "ensemble"] | None = None
    middle_c: Annotated[Literal["C3", "C4", "C5"], AfterValidator(_middle_c)] = "C4"
    range: Range = Range()
    key_offset: Annotated[int, Field(ge=-127, le=127)] = 0
    bend_range: Annotated[int, Field(ge=1, le=96)] | None = None
    loudness: Loudness = DEFAULT_LOUDNESS
    memories: Annotated[tuple[Memory, ...], Field(min_length=1, max_length=100)]
    articulations: Annotated[tuple[Articulation, ...], Field(min_length=1, max_length=1000)]
    stand_ins: Annotated[tuple[StandIn, ...], Field(max_length=200)] = ()
