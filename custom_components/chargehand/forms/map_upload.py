"""A register map that is uploaded in a form: checked first, and kept only when it is right."""

from contextlib import ExitStack
from dataclasses import dataclass

from homeassistant.components.file_upload import process_uploaded_file
from homeassistant.core import HomeAssistant, callback
from homeassistant.util.file import write_utf8_file_atomic

from ..connection import map_paths, own_maps
from ..const import CONF_MAP_FILE
from ..core.reasons import Reason
from ..core.registers import SUNSPEC, MapInvalid, RegisterMap, load_map, name_fault
from ..messages import map_mistakes, reason_text, text
from .form_fault import FormFault


@dataclass(frozen=True, kw_only=True, slots=True)
class UploadedMap:
    """A register map that is right, and not kept yet."""

    content: bytes
    register_map: RegisterMap

    @property
    def file(self) -> str:
        """What it is called."""
        return f"{self.register_map.id}.yaml"


class UploadRefused(Exception):
    """A file that is no register map by its name."""

    def __init__(self, file: str, why: Reason) -> None:
        """Keep the file's name and the reason."""
        super().__init__(file, why)
        self.file = file
        self.why = why


class UploadGone(Exception):
    """The platform has the file no longer."""


def taken_upload(hass: HomeAssistant, file_id: str) -> UploadedMap:
    """Take an uploaded file from the platform, which then deletes it. Blocks. Raises UploadGone, UploadRefused, MapInvalid, OSError."""
    with ExitStack() as leaving:
        try:
            path = leaving.enter_context(process_uploaded_file(hass, file_id))
        except ValueError as fault:
            raise UploadGone from fault
        why = name_fault(path.name)
        if why is not None:
            raise UploadRefused(path.name, why)
        register_map = load_map(path)
        return UploadedMap(content=path.read_bytes(), register_map=register_map)


def other_content(hass: HomeAssistant, upload: UploadedMap) -> bytes | None:
    """Return what a map of the same name holds that is another one, the user's own or a built-in one. Blocks. Raises OSError."""
    map_id = upload.register_map.id
    path = map_paths(hass).get(map_id)
    if path is None:
        return b"" if map_id == SUNSPEC else None
    content = path.read_bytes()
    return None if content == upload.content else content


def keep_map(hass: HomeAssistant, upload: UploadedMap) -> None:
    """Write an uploaded map into the folder of the user's own maps, whole or not at all. Blocks. Raises OSError, HomeAssistantError."""
    folder = own_maps(hass)
    folder.mkdir(exist_ok=True)
    write_utf8_file_atomic(str(folder / upload.file), upload.content, mode="wb")


UPLOAD_FAULTS = (UploadGone, UploadRefused, MapInvalid, OSError)
"""What an upload can end with."""


@callback
def upload_fault(fault: Exception) -> FormFault:
    """Return what is wrong with an upload, as the form shows it."""
    match fault:
        case UploadGone():
            return FormFault(errors={CONF_MAP_FILE: "upload_gone"})
        case UploadRefused():
            detail = text("form_unused_file", file=fault.file, why=reason_text(fault.why))
            return FormFault(errors={CONF_MAP_FILE: "upload_refused"}, detail=detail)
        case MapInvalid():
            return FormFault(errors={CONF_MAP_FILE: "upload_invalid"}, lines=map_mistakes(fault))
        case _:
            return FormFault(errors={CONF_MAP_FILE: "map_not_kept"}, detail=str(fault))
