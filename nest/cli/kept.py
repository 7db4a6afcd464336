"""A run that was killed goes on: what it has placed is kept beside its output until that is written."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nest.cluster.where import Where
    from nest.planning.run import Engine


@contextmanager
def kept_until_written(out: Path, say: Callable[[str], None], where: "Where | None" = None) -> Iterator["Engine"]:
    """Yield an engine that keeps what it finds in `OUT.unfinished`, and uses what an earlier run has kept there.

    The folder is removed when the block ends well, and stays when it does not. One that is somebody else's is left
    alone, with a word before the work begins. Hides are searched by the workers at `where`, if it names any.

    Raises
    ------
    PlanProblem
        As `nest.cluster.engine.engine_on`.
    """
    from nest.cluster.engine import engine_on
    from nest.cluster.where import Where
    from nest.planning.keeping import keeper_for

    with engine_on(where or Where(), say) as away:
        keeper = keeper_for(out, away)
        if keeper.left_alone:
            say(keeper.left_alone)
        yield keeper.keeping()
    if keeper.reused:
        layouts = f"{keeper.reused} layout{'s' * (keeper.reused != 1)}"
        say(f"{layouts} of an earlier run that did not come to its end were used again from {keeper.folder}.")
    said = keeper.left_alone
    keeper.forget()
    if not said and os.path.lexists(keeper.folder):
        say(f"{keeper.folder} holds files that are not this program's; they are left there.")
