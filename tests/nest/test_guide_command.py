"""The command that shows the users' guide."""

import pytest

from nest.cli import main
from nest.cli.codes import Exit
from nest.guide import page, topics


def test_without_a_topic_every_page_is_listed(capsys):
    """One line a page, with what it is about."""
    assert main(["guide"]) == Exit.DONE
    printed = capsys.readouterr().out
    for topic, about in topics().items():
        assert any(line.startswith(topic) and about[:40] in line for line in printed.splitlines()), topic


@pytest.mark.parametrize("topic", sorted(topics()))
def test_into_a_pipe_a_page_goes_as_it_is_written(topic, capsys):
    """Where the output is no terminal it is the Markdown of the page, to the letter."""
    assert main(["guide", topic]) == Exit.DONE
    assert capsys.readouterr().out.rstrip("\n") == page(topic).rstrip("\n")


def test_on_a_terminal_a_page_is_laid_out(capsys, monkeypatch):
    """Headings and tables are drawn, and nothing of the Markdown is left."""
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "100")
    assert main(["guide", "Costing "]) == Exit.DONE
    printed = capsys.readouterr().out
    assert "## " not in printed and "|---" not in printed and "--what-ifs" in printed


@pytest.mark.parametrize(("topic", "hint"), [
    ("costng", "did you mean 'costing'?"), ("quite another", "use cluster, "), ("../plan", "did you mean 'plan'?"),
])
def test_an_unknown_topic_is_one_sentence_with_the_nearest_name(topic, hint, capsys):
    """Bad input: one line that says what there is, and nothing on standard output."""
    assert main(["guide", topic]) == Exit.BAD_INPUT
    said = capsys.readouterr()
    assert said.out == "" and said.err.count("\n") == 1 and hint in said.err


def test_only_topics_lead_to_a_page():
    """Only names of pages lead to one: nothing else of the file system can be read."""
    for name in ("", "..", "../cli/app", "__init__", "/etc/passwd"):
        with pytest.raises(KeyError):
            page(name)
