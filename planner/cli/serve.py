"""`newtank serve`: the page for the phone, and the calendar to subscribe to."""

from __future__ import annotations

import contextlib
import gc
import hashlib
import io
import secrets
import sqlite3
import sys
import time
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.cli.common import print_problems, read_on
from planner.cli.entry import Refused
from planner.cli.kept_place import kept_here, state_folder
from planner.cli.screen import is_ascii, is_plain
from planner.cli.setup import local_zone
from planner.files.read_file import is_there

if TYPE_CHECKING:  # an extra, loaded by this command alone
    from planner.serve.memory import Memory

PORT, CODE_DIGITS = 8017, 8
MISSING = "the page needs a few more packages. Install them with `pip install 'newtank[serve]'`"


@click.command("serve")
@click.argument("folder", metavar="[DIR]", type=click.Path(path_type=Path, exists=True, file_okay=False), default=Path())
@click.option("--lan", is_flag=True, help="Let phones in the same network reach it; else this machine alone.")
@click.option("--port", type=click.IntRange(1, 65535), default=PORT, show_default=True, metavar="N", help="The port it listens on.")
@click.option("--name", "names", multiple=True, metavar="HOST", help="Another name by which the network calls this machine.")
@click.option("--rules", "rules_dir", type=click.Path(exists=True, file_okay=False, path_type=Path), metavar="DIR", help="Lay this folder of house rules over the shipped ones.")
@click.option("--shop", "shop_file", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="FILE", help="The shop's file: letterhead, prices, house rules.")
@click.option("--on", "on_text", metavar="DATE", help="Pretend that today is DATE (YYYY-MM-DD).")
@click.option("--list", "listing", is_flag=True, help="List paired devices and calendar addresses, and end.")
@click.option("--revoke", metavar="WHAT", help="Take a device (device 2), a calendar address (feed 1) or all away, and end.")
def serve_command(folder: Path, lan: bool, port: int, names: tuple[str, ...], rules_dir: Path | None, shop_file: Path | None, on_text: str | None, listing: bool, revoke: str | None) -> None:
    """A page on the home network for the phone: today's jobs to tick, tests to enter, the chart, and the calendar to subscribe to.

    DIR is a tank folder, or a folder of them for the counter. A device is paired once with the code that is printed. Ctrl-C ends it.
    """
    try:
        from planner.serve.asking import Site
        from planner.serve.memory import Memory
        from planner.serve.run import LOOPBACK, home_addresses, host_names, listen, server_for
    except ImportError as error:
        if (error.name or "").partition(".")[0] == "planner":
            raise
        raise Refused(MISSING) from None
    from planner.door.folder import read_rules

    root = folder.resolve()
    place = _memory_file(root)
    try:
        memory = Memory(place, time.time)
    except (OSError, sqlite3.Error) as error:
        raise Refused(f"{place} cannot be opened ({error}), and paired devices would be forgotten. Mend its permissions, or set XDG_STATE_HOME to another folder") from None
    if listing or revoke:
        _access(memory, revoke)
        return
    on: date | None = read_on(on_text) if on_text else None
    rules = read_rules(rules_dir or _rules_of_shop(shop_file))
    print_problems(rules.problems)
    outside = home_addresses() if lan else []
    if lan and not outside:
        raise Refused("this machine has no address in a home network. Connect it, or leave --lan out")
    addresses = [*outside, LOOPBACK]
    code = f"{secrets.randbelow(10**CODE_DIGITS):0{CODE_DIGITS}}"
    site = Site.of(root, rules, memory, code, host_names(addresses, port, names), lambda: datetime.now(UTC), on, kept_here(), shop_file=shop_file, zone=local_zone() or "", cookie=f"newtank{port}")
    if not site.tanks.find() and is_there(root / "journal.csv"):
        raise Refused(f"{folder} holds a journal and no tank.yaml. Name a tank folder, or a folder of them")
    try:
        sockets = listen(addresses, port)
    except OSError as error:
        raise Refused(f"port {port} cannot be used ({error.strerror or error}). Name another one with --port") from None
    gc.enable()  # commands live for less than a second and do without; this one stays
    _tell(site.hosts, outside, code, port, len(site.tanks.find()), site.tanks.single)
    if not site.tanks.single:
        site.board.lines(0.0)
    with contextlib.suppress(KeyboardInterrupt):  # how it is meant to end
        server_for(site).run(sockets=sockets)
    memory.close()
    click.echo("Ended.")


def _tell(hosts: tuple[str, ...], outside: list[str], code: str, port: int, count: int, single: bool) -> None:
    """Where the page is, the code that pairs a device, and a picture of both for the phone's camera."""
    click.echo("This page runs until you press Ctrl-C. Keep this window open." + ("" if single else f" It serves {count} tank{'s' if count != 1 else ''}."))
    for host in hosts if outside else hosts[:1]:
        click.echo(f"  http://{host}")
    click.echo(f"Pairing code: {code[:4]} {code[4:]}")
    if not outside:
        click.echo("It can be reached from this machine alone. With --lan phones in your network reach it too.")
        return
    click.echo("Everybody in this network can read it, and nobody without the code can write. What is sent is not encrypted: use it in a network that you trust.")
    import segno

    if not is_plain() and not is_ascii():
        drawn = io.StringIO()
        segno.make(f"http://{outside[0]}:{port}/pair#{code}", error="l").terminal(drawn, border=2, compact=True)
        click.echo(drawn.getvalue())


def _access(memory: Memory, revoke: str | None) -> None:
    if revoke:
        what, _, number = revoke.strip().lower().partition(" ")
        if what == "all" and not number:
            gone = [memory.forget_device(d.id) for d in memory.devices()] + [memory.forget_feed(f.id) for f in memory.feeds()]
        elif what in ("device", "feed") and number.isdigit():
            gone = [memory.forget_device(int(number)) if what == "device" else memory.forget_feed(int(number))]
        else:
            raise Refused(f"--revoke '{revoke}' names nothing. Write --revoke 'device 2', --revoke 'feed 1' or --revoke all")
        click.echo(f"Taken away: {sum(gone)}.")
    for d in memory.devices():
        click.echo(f"device {d.id}  {d.name}, paired {datetime.fromtimestamp(d.made, UTC):%Y-%m-%d}, last here {datetime.fromtimestamp(d.seen, UTC):%Y-%m-%d}")
    for f in memory.feeds():
        click.echo(f"feed {f.id}    {f.name}, calendar of {f.tank}, made {datetime.fromtimestamp(f.made, UTC):%Y-%m-%d}")
    if not memory.devices() and not memory.feeds():
        click.echo("No device is paired, and there is no calendar address.")


def _memory_file(root: Path) -> Path | None:
    """One for each served folder, in the user's own place for what programs remember."""
    place = state_folder()
    if place is None:
        click.echo("Your system names no folder to remember paired devices in: they are forgotten when this ends.", err=True)
        return None
    return place / "newtank" / f"serve-{hashlib.sha256(str(root).encode('utf-8', 'surrogateescape')).hexdigest()[:16]}.db"


def _rules_of_shop(shop_file: Path | None) -> Path | None:
    if shop_file is None:
        return None
    from planner.cli.common import read_shop_file

    shop, problems = read_shop_file(shop_file)
    print_problems(problems)
    if shop is None:
        sys.exit(1)
    return shop.rules


__all__ = ["serve_command"]
