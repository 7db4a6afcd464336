"""Where `trial` may write: beside the table, never over the folder that holds it."""

from small_jobs import small_job

from nest.cli import main
from nest.cli.codes import Exit

TABLE = "size,piece,toe_mm,rejected\n39,1,9,no\n39,2,9,no\n"


def test_the_folder_of_the_table_is_no_place_for_the_results(tmp_path, capsys):
    """Named trial.csv the table looks like an earlier result: its folder is refused, and nothing in it is moved."""
    job = small_job(tmp_path / "job", pairs={"39": 4})
    lab = tmp_path / "lab"
    lab.mkdir()
    (lab / "trial.csv").write_text(TABLE)
    (lab / "notes.txt").write_text("mine")
    assert main(["trial", str(job), str(lab / "trial.csv"), "-o", str(lab)]) == Exit.BAD_INPUT
    assert "name another folder" in " ".join(capsys.readouterr().err.split())
    assert sorted(path.name for path in lab.iterdir()) == ["notes.txt", "trial.csv"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job", "lab"]


def test_a_folder_of_other_files_is_refused_before_the_work(tmp_path, capsys, monkeypatch):
    """It is said before anything is costed."""
    job = small_job(tmp_path / "job", pairs={"39": 4})
    (tmp_path / "trial.csv").write_text(TABLE)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("mine")
    monkeypatch.setattr("nest.trial.revise", None)
    assert main(["trial", str(job), str(tmp_path / "trial.csv"), "-o", str(tmp_path / "out")]) == Exit.BAD_INPUT
    assert "holds files that no earlier run wrote" in " ".join(capsys.readouterr().err.split())
