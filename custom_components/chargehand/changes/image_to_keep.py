"""What an inverter holds, to be taken for what is wanted."""

from ..core.inverter import Inverter
from ..core.schedule import NOT_SAVED, Image, Uncertain
from .storage import Storage


async def image_to_keep(inverter: Inverter, storage: Storage, *, may_write: bool) -> Image:
    """Return what the inverter holds and acts on: where it may not have saved that, it is told to. Raises NotSupported, LineError.

    Raises Uncertain where it has to be saved without permission to write, and as `Inverter.apply` does where that goes wrong.
    """
    image = await inverter.read_image()
    if storage.unfinished is None or not storage.unfinished.owes:
        return image
    if not may_write:
        raise Uncertain(NOT_SAVED, image)
    return (await inverter.put_image(image)).image
