"""Many pieces of work at a time."""

import asyncio
from collections.abc import Coroutine, Iterable


async def run_all(work: Iterable[Coroutine[object, object, None]]) -> None:
    """Do all of it, to the end even where some fails: a case that is cut off would leave its bench out of step. Raises all faults."""
    ends = await asyncio.gather(*work, return_exceptions=True)
    faults = [end for end in ends if isinstance(end, BaseException)]
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise BaseExceptionGroup(f"{len(faults)} of {len(ends)} failed", faults)
