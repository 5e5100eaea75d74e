"""A folder is a job: out and in again byte for byte, or not at all; photos; names that lead elsewhere; backups."""

from __future__ import annotations

import os
import unicodedata
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.store.conftest import SURVEY
from tests.store.kills import files_of

from airtally.errors import InputError
from airtally.store.backup import back_up, restore, store_digest
from airtally.store.edits import edit, text_of
from airtally.store.engine import Store, open_store
from airtally.store.folder import export_folder, import_folder
from airtally.store.listing import add_job, jobs
from airtally.store.logs import add_log, log_bytes, logs_of, set_aside_log, take_back_log
from airtally.store.names import checked_name, name_key, received_name
from airtally.store.photos import add_photo, photo_bytes, photo_path, photos_of, set_aside_photo, take_back_photo
from airtally.store.texts import Change

JPEG = b"\xff\xd8\xff\xe0 not a real picture"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "some job"
    (made / "logs" / "deeper").mkdir(parents=True)
    (made / "photos").mkdir()
    (made / "survey.toml").write_bytes(SURVEY.replace("\n", "\r\n").encode())
    (made / "visits.toml").write_bytes(b"schema = 1\n\n\n")
    (made / "logs" / "living.csv").write_bytes(b"time,pm25\r\n2025-01-01T00:00Z,4\r\n")
    (made / "logs" / "deeper" / "K\u00fcche.csv").write_bytes(b"\x00\xff")
    (made / "logs" / "again.csv").write_bytes(b"time,pm25\r\n2025-01-01T00:00Z,4\r\n")
    (made / "photos" / "flue.jpg").write_bytes(JPEG)
    (made / "photos" / "words.txt").write_bytes(b"no photo")
    (made / "record.json").write_bytes(b'{"schema": 0}')
    (made / "report.pdf").write_bytes(b"")
    return made


def test_a_folder_comes_out_as_it_went_in(store: Store, folder: Path, tmp_path: Path) -> None:
    job = import_folder(store, folder, "technician")
    assert [(line.name, line.id) for line in jobs(store)] == [("Invented Lane", job)]
    export_folder(store, job, tmp_path / "out")
    assert files_of(tmp_path / "out") == files_of(folder)
    assert import_folder(store, tmp_path / "out", "technician") == job
    assert len(jobs(store)) == 1


def test_a_folder_of_a_job_that_was_edited_since_is_another_job(store: Store, folder: Path) -> None:
    job = import_folder(store, folder, "technician")
    edit(store, job, "survey", [Change(path=("home", "name"), value="Second")], 2, "technician", "a")
    other = import_folder(store, folder, "technician")
    assert other != job
    assert {line.name for line in jobs(store)} == {"Second", "Invented Lane"}


def test_photos_keep_their_place_through_a_folder(store: Store, tmp_path: Path) -> None:
    job = add_job(store, SURVEY, "technician")
    first = add_photo(store, job, "C:\\fake\\flue.jpg", JPEG, "zone/garage", "soot?", "technician", "a")
    assert add_photo(store, job, "C:\\fake\\flue.jpg", JPEG, "zone/garage", "soot?", "technician", "a").id == first.id
    add_photo(store, job, "flue.jpg", JPEG + b"2", "", "", "technician", "b")
    assert [photo.name for photo in photos_of(store, job)] == ["photos/flue-2.jpg", "photos/flue.jpg"]
    export_folder(store, job, tmp_path / "out")
    second = open_store(tmp_path / "second.sqlite")
    copied = import_folder(second, tmp_path / "out", "technician")
    export_folder(second, copied, tmp_path / "again")
    assert files_of(tmp_path / "again") == files_of(tmp_path / "out")
    shown = {photo.name: (photo.place, photo.note, photo.digest) for photo in photos_of(second, copied)}
    assert shown["photos/flue.jpg"] == ("zone/garage", "soot?", first.digest)
    assert photo_bytes(second, first.digest) == JPEG
    second.close()


def test_what_is_no_photo_is_refused_and_a_damaged_one_is_named(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    for content in (b"", b"<svg onload='x'/>", b"GIF89a"):
        with pytest.raises(InputError, match="no photo"):
            add_photo(store, job, "a.jpg", content, "", "", "technician", "a")
    photo = add_photo(store, job, "a.jpg", JPEG, "", "", "technician", "a")
    photo_path(store.photos, photo.digest).write_bytes(b"other")
    with pytest.raises(InputError, match="damaged"):
        photo_bytes(store, photo.digest)
    for name in ("../../etc/passwd", "0" * 63 + "/", "A" * 64):
        with pytest.raises(InputError, match="no digest"):
            photo_bytes(store, name)


def test_what_is_set_aside_is_kept_left_out_and_taken_back(store: Store, tmp_path: Path) -> None:
    job = add_job(store, SURVEY, "technician")
    log = add_log(store, job, "living.csv", b"one", "technician", "a")
    photo = add_photo(store, job, "a.png", b"\x89PNG\r\n\x1a\n", "", "", "technician", "b")
    set_aside_log(store, log.id, "technician")
    set_aside_photo(store, photo.id, "technician")
    export_folder(store, job, tmp_path / "out")
    assert list(files_of(tmp_path / "out")) == ["survey.toml"]
    assert log_bytes(store, log.digest) == b"one"
    assert [row.id for row in logs_of(store, job, are_set_aside=True)] == [log.id]
    add_log(store, job, "living.csv", b"two", "technician", "c")
    assert take_back_log(store, log.id).name == "logs/living-2.csv"
    assert take_back_log(store, log.id).name == "logs/living-2.csv"
    assert take_back_photo(store, photo.id).name == "photos/a.png"


def test_a_log_of_a_name_that_is_taken_gets_a_number_and_the_same_bytes_are_one_file(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    first = add_log(store, job, "Living.csv", b"one", "technician", "a")
    assert first.name == "logs/Living.csv"
    assert add_log(store, job, "living.csv", b"two", "technician", "b").name == "logs/living-2.csv"
    assert add_log(store, job, "Living.csv", b"one", "technician", "c").id == first.id
    assert add_log(store, job, "Living.csv", b"one", "technician", "a").id == first.id
    with pytest.raises(InputError, match="used for another post"):
        add_log(store, job, "Living.csv", b"three", "technician", "a")
    assert len(logs_of(store, job)) == 2


def test_texts_that_are_no_toml_come_in_named_and_go_out_as_they_are(store: Store, tmp_path: Path) -> None:
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "survey.toml").write_bytes(b"schema = 1\n[home\n\xe9")
    (broken / "visits.toml").write_bytes(b"")
    job = import_folder(store, broken, "technician")
    (line,) = jobs(store)
    assert (line.name, set(line.faults)) == ("broken", {"survey"})
    export_folder(store, job, tmp_path / "out")
    assert files_of(tmp_path / "out") == files_of(broken)


def test_a_folder_that_leads_elsewhere_or_lacks_its_survey_leaves_nothing(
    store: Store, folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match=r"holds no survey\.toml"):
        import_folder(store, tmp_path / "empty", "technician")
    with pytest.raises(InputError, match="is no folder"):
        import_folder(store, tmp_path / "nowhere", "technician")
    (folder / "logs" / "out").symlink_to(tmp_path)
    with pytest.raises(InputError, match="logs/out is a link"):
        import_folder(store, folder, "technician")
    (folder / "logs" / "out").unlink()
    (folder / "logs" / "LIVING.csv").write_bytes(b"")
    with pytest.raises(InputError, match="one file on some systems"):
        import_folder(store, folder, "technician")
    (folder / "logs" / "LIVING.csv").unlink()
    (folder / "logs" / "aux.csv").write_bytes(b"")
    with pytest.raises(InputError, match="device on Windows"):
        import_folder(store, folder, "technician")
    (folder / "logs" / "aux.csv").unlink()
    (folder / "photos" / "places.json").write_text('[{"photo": "../a", "place": "", "note": ""}]')
    with pytest.raises(InputError, match="no photo of the folder"):
        import_folder(store, folder, "technician")
    assert jobs(store) == ()


def test_an_export_writes_over_nothing(store: Store, tmp_path: Path) -> None:
    job = add_job(store, SURVEY, "technician")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine").write_text("mine")
    with pytest.raises(InputError, match="is there already"):
        export_folder(store, job, tmp_path / "out")
    assert files_of(tmp_path / "out") == {"mine": b"mine"}


@pytest.mark.parametrize(
    "name",
    [
        "",
        "..",
        "../a.csv",
        "logs/../../a.csv",
        "/etc/passwd",
        "logs//a.csv",
        "logs/",
        ".hidden",
        "logs/.hidden",
        "C:\\a.csv",
        "a\\b.csv",
        "a:b.csv",
        "con",
        "CON.txt",
        "logs/com1.csv",
        "COM\u00b9",
        "lpt\u00b2.txt",
        "nul.tar.gz",
        "a.",
        "a ",
        " a",
        "a\x00b",
        "a\nb",
        "\u202egpj.exe",
        "a\u200bb",
        "\u2024\u2024/a.csv",
        "logs\uff0f\uff0e\uff0e\uff0fa",
        "a\u2215b\ud800",
        "\uff43on",
        "a" * 300,
        "/".join("abcdefghi"),
    ],
)
def test_a_name_that_leads_elsewhere_or_is_none_on_some_system_is_refused(name: str) -> None:
    with pytest.raises(InputError, match="cannot be used"):
        checked_name(name)


@pytest.mark.parametrize(
    "name", ["survey.toml", "logs/K\u00fcche 2.csv", "logs/\u5bb6.csv", "a.b.c", "console.csv", "com.csv"]
)
def test_an_honest_name_is_kept(name: str) -> None:
    assert checked_name(name) == name
    assert checked_name(unicodedata.normalize("NFD", name)) == unicodedata.normalize("NFD", name)


@given(st.text(max_size=300))
def test_whatever_a_device_calls_a_file_it_gets_a_name(name: str) -> None:
    kept = received_name(name)
    assert checked_name(f"logs/{kept}") == f"logs/{kept}"
    assert "/" not in kept


@given(st.text(max_size=60))
def test_a_name_that_passes_stays_below_its_folder(name: str) -> None:
    try:
        checked_name(name)
    except InputError:
        return
    assert os.path.normpath(f"base/{name}") == f"base/{name}"
    assert name_key(name) == name_key(unicodedata.normalize("NFD", name).upper().lower()) or not name.isascii()


def test_a_damaged_backup_leaves_nothing(store: Store, tmp_path: Path) -> None:
    job = add_job(store, SURVEY, "technician")
    add_photo(store, job, "a.jpg", JPEG, "", "", "technician", "a")
    digest = back_up(store, tmp_path / "whole")
    with pytest.raises(InputError, match="no backup is lost"):
        back_up(store, tmp_path / "whole")
    content = (tmp_path / "whole").read_bytes()
    for place in range(0, len(content), max(1, len(content) // 40)):
        (tmp_path / "damaged").write_bytes(content[:place] + bytes([content[place] ^ 0x55]) + content[place + 1 :])
        try:
            # A bit of the archive's own dates and marks may turn without harm: then all is there.
            assert restore(tmp_path / "damaged", tmp_path / f"to-{place}.sqlite") == digest
        except InputError:
            assert not (tmp_path / f"to-{place}.sqlite").exists()
    with zipfile.ZipFile(tmp_path / "whole") as whole, zipfile.ZipFile(tmp_path / "lacks", "w") as lacks:
        lacks.writestr("store.sqlite", whole.read("store.sqlite"))
        lacks.writestr("digest.txt", whole.read("digest.txt"))
    with pytest.raises(InputError, match="nothing was restored"):
        restore(tmp_path / "lacks", tmp_path / "none" / "company.sqlite")
    assert list((tmp_path / "none").iterdir()) == []
    other = add_job(store, SURVEY, "technician")
    back_up(store, tmp_path / "later")
    with zipfile.ZipFile(tmp_path / "later") as later, zipfile.ZipFile(tmp_path / "mixed", "w") as mixed:
        for name in later.namelist():
            mixed.writestr(name, digest if name == "digest.txt" else later.read(name))
    with pytest.raises(InputError, match="does not hold what was backed up"):
        restore(tmp_path / "mixed", tmp_path / "none" / "company.sqlite")
    assert [line.id for line in jobs(store)] == [other, job]
    with pytest.raises(InputError, match="is there already"):
        restore(tmp_path / "whole", store.path)
    (tmp_path / "left.sqlite-wal").write_bytes(b"")
    with pytest.raises(InputError, match="is there already"):
        restore(tmp_path / "whole", tmp_path / "left.sqlite")


def test_a_restored_store_has_the_digest_and_the_photos(store: Store, folder: Path, tmp_path: Path) -> None:
    job = import_folder(store, folder, "technician")
    add_photo(store, job, "a.jpg", JPEG + b"3", "zone/living", "", "technician", "a")
    digest = back_up(store, tmp_path / "whole")
    assert restore(tmp_path / "whole", tmp_path / "again.sqlite") == digest == store_digest(store)
    again = open_store(tmp_path / "again.sqlite")
    assert store_digest(again) == digest
    export_folder(store, job, tmp_path / "one")
    export_folder(again, job, tmp_path / "other")
    assert files_of(tmp_path / "one") == files_of(tmp_path / "other")
    assert text_of(again, job, "survey") == text_of(store, job, "survey")
    edit(again, job, "survey", [Change(path=("home", "name"), value="Third")], 2, "technician", "b")
    assert store_digest(again) != digest
    again.close()
