"""A worked job to begin with, as it is packed with the program: sheet, photo, tables and procedure of an invented plant."""

from __future__ import annotations

from pathlib import Path

import soundedge

from ...basis.errors import Missing, Unreadable
from ...basis.sentences import say
from ..files import write_whole

EXAMPLE, PROCEDURE = "mixer-cover", "kbw-lp-04.toml"
_PACKED = Path(soundedge.__file__).parent / "examples"
_CHECKOUT = Path(soundedge.__file__).parents[2] / "examples"


def lay_example(folder: Path) -> list[str]:
    """Lay out the example in a folder, its procedure beside the sheet; what was written.

    Raises
    ------
    Unreadable
        The folder holds a sheet already, or cannot be made.
    Missing
        The example was not packed with this program.
    """
    home = next((one for one in (_PACKED, _CHECKOUT) if (one / EXAMPLE / "job.toml").is_file()), None)
    if home is None:
        raise Missing("folder", say("folder.no_example_packed"))
    if (folder / "job.toml").exists():
        raise Unreadable("folder", say("folder.folder_has_a_job", folder=folder))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Unreadable("folder", say("folder.out_not_made", folder=folder, why=error.strerror)) from None
    made = {file.name: file.read_bytes() for file in sorted((home / EXAMPLE).iterdir()) if file.is_file()}
    made["job.toml"] = made["job.toml"].replace(b'"../procedures/', b'"')
    made[PROCEDURE] = (home / "procedures" / PROCEDURE).read_bytes()
    for name, raw in made.items():
        write_whole(folder / name, raw)
    return [str(folder / name) for name in made]
