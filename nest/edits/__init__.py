"""Changes to a plan by hand, one after another: each makes a new plan, is judged, and can be undone and redone.

A `State` is a plan and what is held fast in it. A command (`nest.edits.commands`) makes the next state of it
(`nest.edits.change`), or refuses in one sentence. `History` keeps them all; `nest.edits.journal` keeps a history in a
file that survives a killed process.
"""

from nest.edits.anew import placed_anew
from nest.edits.change import changed
from nest.edits.commands import COMMANDS, Command, EditProblem, Step, command_data, commands_from_text
from nest.edits.history import History, played
from nest.edits.journal import Journal
from nest.edits.judged import findings_on
from nest.edits.searched import searched
from nest.edits.state import State

__all__ = [
    "COMMANDS", "Command", "EditProblem", "History", "Journal", "State", "Step", "changed", "command_data",
    "commands_from_text", "findings_on", "placed_anew", "played", "searched",
]
