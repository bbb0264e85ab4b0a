"""Files of energy by request: sent, looked through, seen, then taken."""

from __future__ import annotations

from dataclasses import dataclass, fields

from api.protocol.bodies import NothingBody
from api.protocol.requests import Door, lists, records, shows
from recycling.queries.energy.machines import energy_file, energy_files
from recycling.records.actors import Actor
from recycling.records.energy.entries import FileEntry
from recycling.records.energy.machines import EnergyFileRow
from recycling.services.energy.files import file_bring, file_drop, file_take


@dataclass(frozen=True)
class EnergyFileBody(FileEntry):
    """A file of energy as text, and what is said about it.

    Attributes
    ----------
    text : str
        What the file holds, line by line, header included. A request has up to 5 MiB; larger
        files are brought on the machine's page or cut where one ends and the next begins.
    """

    text: str = ""


@dataclass(frozen=True)
class EnergyFileDropped:
    """What a file was of that is no longer there.

    Attributes
    ----------
    machine : int
        Id of the machine.
    """

    machine: int


class EnergyFilesApi(Door):
    needs = {"GET": "read", "POST": "record"}

    @lists(EnergyFileRow)
    def get(self, actor: Actor) -> list[EnergyFileRow]:
        """List the latest files of energy, the newest first."""
        return energy_files(actor)

    @records(EnergyFileBody, EnergyFileRow, status=202)
    def post(self, actor: Actor, body: EnergyFileBody) -> EnergyFileRow:
        """Have a file looked through; nothing counts before it is taken, the same again is one."""
        said = {field.name: getattr(body, field.name) for field in fields(FileEntry)}
        entry = FileEntry(**said | {"zone": body.zone or actor.zone})
        return energy_file(actor, file_bring(actor, entry, [body.text.encode()]))


class EnergyFileApi(Door):
    needs = {"GET": "read"}

    @shows(EnergyFileRow)
    def get(self, actor: Actor, file: int) -> EnergyFileRow:
        """Show how far a file is and what was found in it, each bad row with its line."""
        return energy_file(actor, file)


class EnergyFileTakeApi(Door):
    needs = {"POST": "record"}

    @records(NothingBody, EnergyFileRow, status=202)
    def post(self, actor: Actor, body: NothingBody, file: int) -> EnergyFileRow:
        """Take a file whose preview was seen: it counts for the runs of its machine from then."""
        return energy_file(actor, file_take(actor, file))


class EnergyFileDropApi(Door):
    needs = {"POST": "record"}

    @records(NothingBody, EnergyFileDropped, status=200)
    def post(self, actor: Actor, body: NothingBody, file: int) -> EnergyFileDropped:
        """Drop a file that was not taken."""
        return EnergyFileDropped(file_drop(actor, file))
