"""The house keeps its own rules: what may be tracked, how big a file may be, what the README promises."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "src" / "boostwright"
MOST_LINES = 500  # a longer one is split, or given its reason here
LONGER: dict[str, str] = {}  # path: reason


def tracked() -> list[Path]:
    """Every file that git tracks and that is there; without git, every file outside the dot folders."""
    if (ROOT / ".git").exists() and shutil.which("git"):
        command = ["git", "-c", f"safe.directory={ROOT}", "ls-files", "-z"]
        names = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.split(
            "\0"
        )
        return [ROOT / name for name in names if name and (ROOT / name).is_file()]
    return [
        p
        for p in ROOT.rglob("*")
        if p.is_file() and not any(part.startswith(".") for part in p.relative_to(ROOT).parts)
    ]


def text_of(path: Path) -> str | None:
    """The file's text, or None if it is no text."""
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return None


def hits(pattern: str, *, leave_out: tuple[str, ...] = ()) -> list[str]:
    """'file:line: text' for every tracked line in which the pattern is found."""
    found = []
    for path in tracked():
        name = path.relative_to(ROOT).as_posix()
        if name in leave_out or name == "tests/test_house.py":
            continue
        for number, line in enumerate((text_of(path) or "").splitlines(), start=1):
            if re.search(pattern, line):
                found.append(f"{name}:{number}: {line.strip()[:140]}")
    return found


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


# --------------------------------------------------------------------------------- what may be tracked


def test_no_address_of_a_package_index_is_tracked() -> None:
    address = r"https?://[^\s)\"'>]*/(simple|packages)\b|\b(pypi|pythonhosted|npmjs)\.(org|com)\b"
    found = hits(address + r"|--(extra-)?index-url[ =]|--find-links")
    assert not found, "a package index is named; the lock and the docs must name none:\n" + "\n".join(found)


def test_no_path_of_one_machine_is_tracked() -> None:
    found = hits(r"(^|[^A-Za-z0-9._~\-])/(work|farm|tmp|root|home|Users)/[A-Za-z0-9.]")
    assert not found, "a path that only one machine has:\n" + "\n".join(found)


def test_locks_carry_a_hash_for_every_package() -> None:
    for lock in sorted((ROOT / "requirements").glob("*.lock")):
        blocks = re.findall(
            r"^[A-Za-z0-9].*?(?=^[A-Za-z0-9]|\Z)", lock.read_text(), flags=re.MULTILINE | re.DOTALL
        )
        assert blocks, f"{lock.name} locks nothing"
        bare = [
            block.split()[0]
            for block in blocks
            if "--hash=sha256:" not in block or "==" not in block.split()[0]
        ]
        assert not bare, f"{lock.name}: no hash or no exact version for {bare}"


def lock_versions(name: str) -> set[str]:
    return {
        line.rstrip(" \\")
        for line in (ROOT / "requirements" / name).read_text().splitlines()
        if re.match(r"[A-Za-z0-9]", line)
    }


def test_the_checks_run_on_the_very_versions_that_the_program_runs_on() -> None:
    missing = {line.split(";")[0].strip() for line in lock_versions("runtime.lock")} - {
        line.split(";")[0].strip() for line in lock_versions("test.lock")
    }
    assert not missing, f"runtime.lock has {sorted(missing)}, test.lock has not; run `make lock`"


def bare(requirement: str) -> str:
    return re.split(r"[<>=~! \[]", requirement)[0].lower()


def in_names(name: str) -> set[str]:
    lines = (ROOT / "requirements" / name).read_text().splitlines()
    return {bare(line) for line in lines if line and not line.startswith(("#", "-r"))}


def test_what_pyproject_asks_for_is_what_is_locked() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    asked = {bare(item) for item in project["project"]["dependencies"]}
    assert in_names("runtime.in") == asked, (
        "requirements/runtime.in and pyproject.toml ask for different things"
    )
    assert {bare(item) for item in project["build-system"]["requires"]} <= in_names("build.in")


# ------------------------------------------------------------------------------------------- the rooms


def test_every_module_says_what_it_is_for() -> None:
    silent = []
    for path in modules():
        words = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
        if len(words) < 15:
            silent.append(path.relative_to(ROOT).as_posix())
    assert not silent, f"no docstring, or none that says something: {silent}"


def test_no_docstring_holds_a_pasted_quote() -> None:
    """A long line that a tool broke as if it were a string, inside one."""
    broken = []
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
                words = ast.get_docstring(node, clean=False) or ""
                if re.search(r'"\s*\n\s*"', words):
                    broken.append(f"{path.relative_to(ROOT)}: {words[:60]}")
    assert broken == []


def test_no_file_is_crowded() -> None:
    crowded = {}
    for path in modules():
        count = len(path.read_text(encoding="utf-8").splitlines())
        name = path.relative_to(ROOT).as_posix()
        if count > MOST_LINES and name not in LONGER:
            crowded[name] = count
    assert not crowded, f"over {MOST_LINES} lines; split it, or put its reason into LONGER: {crowded}"


def test_every_room_stands_in_the_architecture_page() -> None:
    page = (ROOT / "docs" / "architecture.md").read_text(encoding="utf-8")
    rooms = {p.name + "/" for p in PACKAGE.iterdir() if p.is_dir() and (p / "__init__.py").exists()}
    rooms |= {p.name for p in PACKAGE.glob("*.py") if not p.name.startswith("__")}
    missing = sorted(room for room in rooms if f"`{room}`" not in page)
    assert not missing, f"docs/architecture.md gives no floor to {missing}"


def test_data_files_are_packed(tmp_path: Path) -> None:
    """A wheel built from this tree holds every data file of src/boostwright/."""
    data = {
        p.relative_to(ROOT / "src").as_posix()
        for p in tracked()
        if PACKAGE in p.parents and p.suffix != ".py"
    }
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True, timeout=120)
    import zipfile

    (wheel,) = tmp_path.glob("*.whl")
    missing = data - set(zipfile.ZipFile(wheel).namelist())
    assert not missing, f"not in the wheel: {sorted(missing)}"


def test_importing_the_front_door_is_quick() -> None:
    """Plots, compiled code and SciPy cost seconds; who only asks for help must not pay for them."""
    code = "import boostwright, boostwright.cli, sys; print(*sorted(sys.modules))"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120
    )
    heavy = {"matplotlib", "numba", "scipy", "fluids", "ht", "pandas"} & set(loaded.stdout.split())
    assert not heavy, f"`import boostwright.cli` loads {sorted(heavy)}; import them where they are used"


def test_the_contracts_between_rooms_can_break(tmp_path: Path) -> None:
    """Plant one breach of each contract in a copy; the linter must find each of them."""
    shutil.copytree(ROOT / "src", tmp_path / "src", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    copy = tmp_path / "src" / "boostwright"
    breaches = (
        "import json",
        "import numba",
        "import CoolProp",
        "import matplotlib.pyplot",
        "import boostwright.build",
    )
    (copy / "physics" / "planted.py").write_text("\n".join(breaches))
    (copy / "planted_room").mkdir()
    (copy / "planted_room" / "__init__.py").touch()
    (copy / "systems" / "planted.py").touch()
    linter = Path(sys.executable).parent / "lint-imports"
    command = [str(linter), "--no-cache", "--no-logo"]
    ran = subprocess.run(
        command,
        cwd=tmp_path,
        env={"PYTHONPATH": str(tmp_path / "src"), "NO_COLOR": "1"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert ran.returncode == 1, ran.stdout + ran.stderr
    wanted = [
        "boostwright.physics is not allowed to import boostwright.build",
        "- boostwright.planted_room",
        "- boostwright.systems.planted",
        "boostwright is not allowed to import matplotlib",
        "boostwright is not allowed to import numba",
        "boostwright.physics is not allowed to import json",
        "boostwright is not allowed to import CoolProp",
    ]
    missed = [line for line in wanted if line not in ran.stdout]
    assert not missed, f"contracts that did not see their breach: {missed}\n{ran.stdout}"


# ------------------------------------------------------------------------------------------ the README


def readme() -> str:
    return (ROOT / "README.md").read_text(encoding="utf-8")


def code_blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", readme(), flags=re.MULTILINE | re.DOTALL)


def test_the_readme_says_the_job_in_its_first_paragraph() -> None:
    title, paragraph, *_ = readme().split("\n\n")
    assert title.strip() == "# boostwright"
    assert len(paragraph) > 200, "the first paragraph must state the whole job"
    for word in ("turbo", "one file", "holds"):
        assert word in paragraph, f"the first paragraph does not speak of '{word}'"


def test_the_readme_has_exactly_two_set_up_commands() -> None:
    (section,) = re.findall(r"^## Set up\n(.*?)(?=^## |\Z)", readme(), flags=re.MULTILINE | re.DOTALL)
    commands = re.findall(r"^```sh\n(.*?)^```", section, flags=re.MULTILINE | re.DOTALL)
    lines = [line.split("#")[0].strip() for block in commands for line in block.splitlines()]
    assert lines == ["make demo", "make test"]


def test_makefile_targets_in_the_readme_exist() -> None:
    makefile = (ROOT / "Makefile").read_text()
    named = set(
        re.findall(
            r"\bmake ([a-z]+)\b(?=[`\s])",
            "\n".join(re.findall(r"`[^`]+`|^make .*$", readme(), flags=re.MULTILINE)),
        )
    )
    assert {"demo", "test"} <= named
    missing = [name for name in sorted(named) if not re.search(rf"^{name}:", makefile, flags=re.MULTILINE)]
    assert not missing, f"the README names targets that the Makefile lacks: {missing}"


def test_links_in_the_pages_lead_somewhere() -> None:
    broken = []
    for page in [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]:
        for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
            if not re.match(r"[a-z]+:", target) and not (page.parent / target).exists():
                broken.append(f"{page.relative_to(ROOT)} -> {target}")
    assert not broken, f"links to nothing: {broken}"


def test_every_page_stands_in_the_readmes_map() -> None:
    pages = [
        p.relative_to(ROOT).as_posix() for p in tracked() if p.parent == ROOT / "docs" and p.suffix == ".md"
    ]
    wrong = {
        page: readme().count(f"({page})") for page in pages if readme().count(f"\n| [{page}]({page})") != 1
    }
    assert not wrong, f"each page has one row in the README's map; these have: {wrong}"


def test_the_build_file_in_the_readme_can_be_read(tmp_path: Path) -> None:
    from boostwright import load_build

    (block,) = code_blocks("toml")
    file = tmp_path / "readme.toml"
    file.write_text(block, encoding="utf-8")
    build = load_build(file)
    stated = tomllib.loads(block)
    assert build["engine.cylinders"].value == stated["engine"]["cylinders"]


def test_the_python_in_the_readme_names_what_exists() -> None:
    """Imports are carried out, and every attribute of a finding that is named is one that a finding has."""
    from boostwright.findings.model import Finding
    from boostwright.findings.result import CheckResult

    blocks = [ast.parse(block) for block in code_blocks("python")]
    assert blocks
    for block in blocks:
        for node in block.body:
            if isinstance(node, ast.ImportFrom):
                exec(compile(ast.Module([node], []), "README.md", "exec"), {})
        for node in ast.walk(block):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                owner = {"finding": Finding, "result": CheckResult}[node.value.id]
                assert node.attr in dir(owner) or node.attr in owner.__annotations__, (
                    f"{owner.__name__} has no {node.attr}"
                )


def test_the_commands_in_the_readme_exist(capsys: pytest.CaptureFixture[str]) -> None:
    """Every command has its help, and every option that the README shows stands in it."""
    from boostwright.cli import main

    lines = [line.split("#")[0].split() for block in code_blocks("sh") for line in block.splitlines()]
    calls = [words[1:] for words in lines if words and words[0] == "boostwright"]
    assert len(calls) > 5
    for name, *rest in calls:
        assert main([name, "--help"]) == 0, f"there is no command {name}"
        words = capsys.readouterr().out
        missing = [option for option in rest if option.startswith("-") and option not in words]
        assert not missing, f"boostwright {name} has no {missing}"


# ------------------------------------------------------------------------------------------ the set-up


def shell_run(path_folder: Path, *arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["/bin/sh", "tools/setup.sh", *arguments],
        cwd=cwd,
        env={"PATH": str(path_folder), "HOME": str(cwd)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.fixture
def bare_machine(tmp_path: Path) -> tuple[Path, Path]:
    """A copy of what set-up needs, and a PATH with the plain tools and no Python."""
    tools = tmp_path / "bin"
    tools.mkdir()
    for name in ("cat", "date", "dirname", "mkdir", "rm", "sleep", "grep", "tail", "tr"):
        found = shutil.which(name)
        assert found, name
        (tools / name).symlink_to(found)
    clone = tmp_path / "clone"
    shutil.copytree(ROOT / "tools", clone / "tools")
    shutil.copytree(ROOT / "requirements", clone / "requirements")
    shutil.copy(ROOT / "pyproject.toml", clone)
    return tools, clone


def fake_python(folder: Path, body: str) -> None:
    script = folder / "python3"
    script.write_text(f"#!/bin/sh\nreal='{Path(sys.executable).resolve()}'\n{body}\n")
    script.chmod(0o755)


def one_sentence(ran: subprocess.CompletedProcess[str], *words: str) -> None:
    lines = [line for line in ran.stderr.splitlines() if line.strip()]
    assert ran.returncode == 1, (ran.returncode, ran.stdout, ran.stderr)
    assert len(lines) == 1, f"one sentence is wanted, this came: {ran.stderr!r}"
    assert lines[0].startswith("setup: ")
    for word in words:
        assert word in lines[0], f"{word!r} is not in: {lines[0]}"


def test_set_up_without_python_says_so(bare_machine: tuple[Path, Path]) -> None:
    tools, clone = bare_machine
    one_sentence(shell_run(tools, "runtime", cwd=clone), "3.11 or newer", "none on the PATH")


def test_set_up_with_an_old_python_names_it(bare_machine: tuple[Path, Path]) -> None:
    tools, clone = bare_machine
    fake_python(tools, "[ \"$1\" = --version ] && echo 'Python 3.9.2' && exit 0\nexit 1")
    one_sentence(shell_run(tools, "runtime", cwd=clone), "3.11 or newer", "Python 3.9.2")


def test_set_up_without_pip_and_ensurepip_says_so(bare_machine: tuple[Path, Path]) -> None:
    tools, clone = bare_machine
    fake_python(
        tools,
        'case "$*" in *"-m pip"*|*"import ensurepip"*) exit 1;; *sys.executable*) echo "$0"; exit 0;; esac\n'
        'exec "$real" "$@"',
    )
    one_sentence(shell_run(tools, "runtime", cwd=clone), "neither pip nor ensurepip", "apt install")


def test_set_up_without_a_registry_says_so(bare_machine: tuple[Path, Path]) -> None:
    """pip answers as it does without a network."""
    tools, clone = bare_machine
    fake_python(
        tools,
        'case "$*" in *"pip config"*) exit 0;; *sys.executable*) echo "$0"; exit 0;;\n'
        '*"pip --python"*) echo "Connection failed: Name or service not known" >&2; exit 1;;\n'
        'esac\nexec "$real" "$@"',
    )
    one_sentence(shell_run(tools, "runtime", cwd=clone), "no package registry answered", "check the network")
    assert not list(clone.glob(".venv/.ready-*")), "a set-up that stopped must not be marked as ready"


def test_set_up_with_a_word_that_it_does_not_know(bare_machine: tuple[Path, Path]) -> None:
    tools, clone = bare_machine
    assert shell_run(tools, "everything", cwd=clone).returncode == 2
