"""Makes the golden files of the XKB import with libxkbcommon itself.

    python3 tests/reference/keymap.py

Needs libxkbcommon.so.0 and xkbcli (Debian: libxkbcommon-tools) and the
system's XKB data. For each layout it writes a keymap that stands alone, cut
down to the main block, and what libxkbcommon gives for every key of that file
under Shift, Mod5 (level 3) and Mod3 (level 5). Run by hand only.
"""

import ctypes
import pathlib
import re
import subprocess

LAYOUTS = {"de": ["--layout", "de"], "de-neo": ["--layout", "de", "--variant", "neo"]}
FOLDER = pathlib.Path(__file__).parent.parent / "fixtures" / "import"
MAIN = re.compile(r"<(TLDE|BKSL|LSGT|SPCE|CAPS|RALT|LFSH|RTSH|TAB|RTRN|BKSP|A[B-E]\d\d)>")
# Keys that no board has: they carry the modifiers of levels 3 and 5.
KEPT = re.compile(MAIN.pattern[:-2] + r"|LVL3|LVL5|MDSW)>")

lib = ctypes.CDLL("libxkbcommon.so.0")
for name in ("xkb_context_new", "xkb_keymap_new_from_string", "xkb_state_new"):
    getattr(lib, name).restype = ctypes.c_void_p


def cut(keymap):
    """Leaves out symbols of keys beyond the main block, and indicators."""
    lines, skip = [], False
    for line in keymap.splitlines():
        if line.startswith("\tkey ") and not KEPT.search(line):
            skip = not line.rstrip().endswith("};")
            continue
        if skip:
            skip = not line.strip().endswith("};")
            continue
        if line.startswith("\tmodifier_map") and not KEPT.search(line):
            continue
        lines.append(line)
    return "\n".join(lines) + "\n"


def table(text):
    context = ctypes.c_void_p(lib.xkb_context_new(0))
    keymap = ctypes.c_void_p(lib.xkb_keymap_new_from_string(context, text.encode(), 1, 0))
    state = ctypes.c_void_p(lib.xkb_state_new(keymap))
    index = {name: lib.xkb_keymap_mod_get_index(keymap, name) for name in (b"Shift", b"Mod5", b"Mod3")}
    rows = []
    for name, code in re.findall(r"<(\w+)>\s*= (\d+);", text):
        if not MAIN.match(f"<{name}>"):
            continue
        for mods in range(8):
            mask = sum(1 << index[mod] for bit, mod in enumerate(index) if mods & (1 << bit))
            lib.xkb_state_update_mask(state, mask, 0, 0, 0, 0, 0)
            keysym = lib.xkb_state_key_get_one_sym(state, int(code))
            char = lib.xkb_keysym_to_utf32(keysym)
            if char >= 32 and char != 127:
                rows.append(f"{name},{mods},{char:04X}")
    return rows


for layout, names in LAYOUTS.items():
    keymap = subprocess.run(["xkbcli", "compile-keymap", *names], capture_output=True, text=True, check=True)
    text = cut(keymap.stdout)
    (FOLDER / f"{layout}.xkb").write_text(text)
    head = "key,modifiers (1 Shift, 2 Mod5, 4 Mod3),code point by libxkbcommon\n"
    (FOLDER / f"{layout}.csv").write_text(head + "\n".join(table(text)) + "\n")
