"""What there is to check at a path."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearrec.check_targets import find


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with two catalogs, jobs inside and outside, and YAML of other programs."""
    for file, text in {
        "shop/catalog.yaml": "kind: catalog\n",
        "shop/parts/tires.yaml": "kind: tire\n",
        "shop/cases/one-job.yaml": "kind: job\nvehicle: shop/a\n",
        "tools/deep/catalog.yaml": "kind: catalog\n",
        "tools/deep/inner/catalog.yaml": "kind: catalog\n",
        "jobs/a.yaml": "kind: job\n",
        "jobs/b.yaml": "# no kind\nvehicle: shop/a\n",
        "jobs/broken.yaml": "kind: job\n\tvehicle: [\n",
        "jobs/notes.txt": "kind: job\n",
        "compose.yaml": "services:\n  kind: job\n",
        "chart.yaml": "kind: Deployment\n",
        "lost.yaml": "kind: tire\n",
        "site.yml": "name: x\n",
        ".hidden/job.yaml": "kind: job\n",
    }.items():
        path = tmp_path / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_folder_of_several(house: Path) -> None:
    found = find([house])
    assert found.catalogs == (house / "shop", house / "tools/deep")
    assert found.inner_jobs == (house / "shop/cases/one-job.yaml",)
    assert found.jobs == tuple(
        house / name for name in ("jobs/a.yaml", "jobs/b.yaml", "jobs/broken.yaml", "lost.yaml")
    )
    assert found.problems == ()


@pytest.mark.parametrize(
    "path", ["shop", "shop/", "shop/catalog.yaml", "shop/parts", "shop/parts/tires.yaml"]
)
def test_a_path_in_a_catalog_stands_for_all_of_it(house: Path, path: str) -> None:
    assert find([path]).catalogs == (Path("shop"),)
    assert find([house / path]).catalogs == (house / "shop",)


def test_a_catalog_begins_above_the_working_folder(
    house: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(house / "shop/parts")
    assert find(["tires.yaml"]).catalogs == (Path(".."),)
    assert find(["."]).catalogs == (Path(".."),)


def test_a_path_given_twice_counts_once(house: Path) -> None:
    found = find(["shop/parts", house / "shop", "jobs/a.yaml", house / "jobs/a.yaml", "jobs"])
    assert found.catalogs == (Path("shop"),)
    assert [path.name for path in found.jobs] == ["a.yaml", "b.yaml", "broken.yaml"]


@pytest.mark.usefixtures("house")
def test_a_file_named_itself_must_be_ours_unless_others_are_skipped() -> None:
    given = ["compose.yaml", "chart.yaml", "site.yml", "jobs/a.yaml", "lost.yaml", "gone.yaml"]
    assert find(given).jobs == tuple(map(Path, given))
    ours = (Path("jobs/a.yaml"), Path("lost.yaml"), Path("gone.yaml"))
    assert find(given, skip_others=True).jobs == ours


def test_a_folder_without_anything_of_ours_is_a_problem(tmp_path: Path) -> None:
    (tmp_path / "compose.yaml").write_text("services: {}\n", encoding="utf-8")
    (problem,) = find([tmp_path]).problems
    assert problem.place.file == str(tmp_path)
    assert "neither a catalog" in problem.message


def test_odd_names_are_left_for_the_reader_to_tell(tmp_path: Path) -> None:
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    given = (loop, Path("a\0b"), tmp_path / "gone" / "deeper")
    assert find(given).jobs == given
