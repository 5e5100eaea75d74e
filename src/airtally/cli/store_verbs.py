"""Verbs that work on the company's store of jobs."""

from __future__ import annotations

from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Iterator

    from airtally.store.engine import Store

STORE = click.option(
    "--store",
    "store_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="The company's jobs; left out: the file that airtally keeps in your user's data folder.",
)


@click.command(name="import")
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@STORE
def import_job(folder: Path, store_file: Path | None) -> None:
    """Take FOLDER into the store as a job, byte for byte; a job that is this very folder already stays the one it is."""
    from airtally.store.folder import import_folder
    from airtally.store.listing import job_line

    with _opened(store_file) as store:
        line = job_line(store, import_folder(store, folder, "imported"))
        click.echo(f"{line.name}: job {line.id} in {store.path}")
        for part, fault in line.faults.items():
            click.echo(f"warning: {part}.toml is kept, but {fault}")


@click.command()
@click.argument("job")
@click.argument("folder", type=click.Path(path_type=Path))
@STORE
def export(job: str, folder: Path, store_file: Path | None) -> None:
    """Write JOB, by its name or the beginning of its id, to a new FOLDER with every file of it."""
    from airtally.store.folder import export_folder
    from airtally.store.listing import find_line

    with _opened(store_file) as store:
        line = find_line(store, job)
        export_folder(store, line.id, folder)
    click.echo(f"{line.name}: written to {folder}")


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@STORE
def backup(file: Path, store_file: Path | None) -> None:
    """Write all jobs, photos and their history to one new FILE; the store may be in use."""
    from airtally.store.backup import back_up

    with _opened(store_file) as store:
        digest = back_up(store, file)
    click.echo(f"Backup: {file}, digest {digest}")


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@STORE
def restore(file: Path, store_file: Path | None) -> None:
    """Make a store of the backup FILE, where none is yet; a store that is there is never written over."""
    from airtally.errors import InputError
    from airtally.store import backup as backups
    from airtally.store.engine import default_path

    path = store_file or default_path()
    try:
        digest = backups.restore(file, path)
    except InputError as error:
        raise click.ClickException(str(error)) from error
    click.echo(f"Restored to {path}, digest {digest}")


@click.command()
@STORE
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port; a usual or a free one if not given.")
@click.option(
    "--tablet",
    default="",
    metavar="NAME",
    help="Serve other devices too: the name or address they call this machine by.",
)
@click.option("--no-browser", is_flag=True, help="Do not open the browser.")
def serve(store_file: Path | None, port: int, tablet: str, *, no_browser: bool) -> None:
    """Serve the pages on this machine and open them in the browser."""
    from airtally.errors import AirtallyError
    from airtally.store.engine import default_path
    from airtally.web.serve import serve as serve_pages

    try:
        serve_pages(
            store_file or default_path(), port=port, tablet=tablet, opens_browser=not no_browser, say=click.echo
        )
    except AirtallyError as error:
        raise click.ClickException(str(error)) from error


@contextmanager
def _opened(path: Path | None) -> Iterator[Store]:
    """Open the store; what is wrong with it or with what is asked of it ends the command in plain words."""
    from airtally.errors import InputError
    from airtally.store.engine import default_path, open_store

    try:
        store = open_store(path or default_path())
        try:
            yield store
        finally:
            store.close()
    except InputError as error:
        raise click.ClickException(str(error)) from error


VERBS = (import_job, export, backup, restore, serve)
