"""What the recording pages must know of a run and of a typed figure."""

from __future__ import annotations

from dataclasses import dataclass

from recycling.records.lots.lots import PostingRow
from recycling.records.runs.runs import RunInput


@dataclass(frozen=True)
class RunInside:
    """A run as far as it got.

    Attributes
    ----------
    code, stage, title, state, polymer, machine : str
        Its code, stage and that stage's title, state, polymer and machine.
    inputs : tuple of RunInput
        What it drew.
    made : tuple of (str, int)
        Form and mass in mg of each lot it gave.
    noted : tuple of str
        Keys of the checks that were noted.
    inputs_mg, outputs_mg, lost_mg, in_process_mg : int
        Mass drawn, given, lost as measured, and still inside, in mg.
    """

    code: str
    stage: str
    title: str
    state: str
    polymer: str
    machine: str
    inputs: tuple[RunInput, ...]
    made: tuple[tuple[str, int], ...]
    noted: tuple[str, ...]
    inputs_mg: int
    outputs_mg: int
    lost_mg: int
    in_process_mg: int


@dataclass(frozen=True)
class TypedFigure:
    """A figure that somebody typed, with its corrections.

    Attributes
    ----------
    first : PostingRow
        The posting that carries it.
    history : tuple of PostingRow
        That posting and each correction of it, in order.
    now_mg : int
        What the book says now, in mg, without sign.
    following : tuple of (str, str)
        Code and stage of each run that took the lot whole since, and so may follow.
    """

    first: PostingRow
    history: tuple[PostingRow, ...]
    now_mg: int
    following: tuple[tuple[str, str], ...] = ()
