"""Reading a run or a scenario never executes anything that stands in it."""

import subprocess
import sys
from pathlib import Path

from tests.runs.samples import a_run
from weldsim.runs.files import save_run

ROOT = Path(__file__).parents[2]
# The hook cannot be taken off again, so this runs in a process of its own.  First everything is loaded by reading good
# files; from then on nothing may be compiled, run, imported from the folder of the files, unpickled or sent.
WATCHED = """
import sys
from pathlib import Path
import weldsim
from weldsim.errors import WeldsimError
good, folder = sys.argv[1], Path(sys.argv[2])
weldsim.open_run(good).scenario
weldsim.read("toroid_shed")
for read in (weldsim.read, weldsim.open_run):  # and what only a refusal needs
    for place in (Path(good).with_name("nowhere"), Path(good).with_name("wrong.toml")):
        try:
            read(place)
        except WeldsimError:
            pass
watching, seen = True, []
FORBIDDEN = ("exec", "compile", "os.system", "os.exec", "os.posix_spawn", "os.fork", "subprocess.Popen", "import",
             "pickle.find_class", "marshal.loads", "ctypes.dlopen", "socket.connect", "socket.__new__", "code.__new__")

def watch(event, arguments):
    if watching and event in FORBIDDEN:
        seen.append((event, str(arguments)[:200]))

sys.addaudithook(watch)
for place in sorted(folder.iterdir()):
    for read in (weldsim.read, weldsim.open_run):
        try:
            found = read(place)
            getattr(found, "scenario", None)
        except WeldsimError:
            pass
watching = False
print(seen)
"""
EVIL = "__import__('os').system('touch executed')"
TEXTS = {
    "evil.toml": f"title = \"{EVIL}\"\nnotes = '''{{{{{EVIL}}}}} $({EVIL}) `{EVIL}` %(x)s'''\n"
    '[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n',
    "evil_key.toml": f'"{EVIL}" = 1\n[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n',
    "evil_value.toml": f'[mains]\nvoltage = "{EVIL} V"\nfrequency = "50 Hz"\n',
    "include.toml": 'include = "evil.py"\n[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n',
    "evil.py": "open('executed', 'w')\n",
    "yaml.toml": f"!!python/object/apply:os.system ['{EVIL}']\n",
}


def test_nothing_in_a_file_is_executed(tmp_path):
    """Files that hold code in every place where text may stand are read while an audit hook watches the interpreter."""
    folder = tmp_path / "files"
    folder.mkdir()
    good = save_run(a_run(10), tmp_path / "good.h5")
    (tmp_path / "wrong.toml").write_text("[mains]\nvoltage = '1 ohm'\nfrequenzy = 3\n", encoding="utf-8")
    for name, text in TEXTS.items():
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "pickle.h5").write_bytes(b"cos\nsystem\n(S'touch executed'\ntR.")
    save_run(a_run(10, provenance={"command": EVIL, EVIL: {"x": EVIL}}), folder / "evil.h5")

    done = subprocess.run(
        [sys.executable, "-c", WATCHED, str(good), str(folder)],
        cwd=folder,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )

    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.strip() == "[]"
    assert not any(tmp_path.rglob("executed"))
