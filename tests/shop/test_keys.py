"""Keys: kept hashed, checked in full, noted when used."""

from __future__ import annotations

import hmac
import re

import pytest
from sqlalchemy import select, update

from alloyref.shop import keys, tables
from alloyref.shop.clock import ago
from alloyref.shop.database import Database
from alloyref.shop.errors import KeyRefused


def test_a_key_is_known_again_and_its_secret_is_kept_nowhere(database: Database) -> None:
    made, whole = keys.create(database, "till", ("write", "read"))
    assert re.fullmatch(r"alloyref_[0-9a-f]{16}_[0-9a-f]{64}", whole)
    found = keys.check(database, whole)
    assert (found.id, found.scopes, found.name) == (made.id, ("read", "write"), "till")
    with database.read() as connection:
        row = str(connection.execute(select(tables.keys)).one())
    assert whole.rpartition("_")[2] not in row
    assert keys.create(database, "till", ("read",))[1] != whole


def test_every_part_of_it_counts(database: Database) -> None:
    whole = keys.create(database, "till", ("read",))[1]
    for place in (9, 24, 26, 60, len(whole) - 1):
        other = "0" if whole[place] != "0" else "1"
        with pytest.raises(KeyRefused, match="not a key"):
            keys.check(database, whole[:place] + other + whole[place + 1 :])
    for wrong in ("", whole[:-1], whole + "0", whole.upper(), f" {whole}", whole + "\n", "\x00"):
        with pytest.raises(KeyRefused, match="not a key"):
            keys.check(database, wrong)


def test_it_is_refused_once_revoked_or_expired(database: Database) -> None:
    made, whole = keys.create(database, "till", ("read",))
    assert keys.revoke(database, made.id)
    first = keys.listed(database)[0].revoked
    assert keys.revoke(database, made.id)
    assert keys.listed(database)[0].revoked == first
    with pytest.raises(KeyRefused, match="revoked"):
        keys.check(database, whole)
    assert not keys.revoke(database, "0" * 16)
    old = keys.create(database, "old", ("read",), expires=ago(seconds=0))[1]
    with pytest.raises(KeyRefused, match="expired"):
        keys.check(database, old)


def test_a_key_for_addresses_only_reads(database: Database) -> None:
    whole = keys.create(database, "cell", ("read",), in_query=True)[1]
    assert keys.check(database, whole, in_query=True).in_query
    assert keys.check(database, whole).in_query
    with pytest.raises(KeyRefused, match="address"):
        keys.check(database, keys.create(database, "till", ("read",))[1], in_query=True)
    for scopes in (("write",), ("read", "write")):
        with pytest.raises(ValueError, match="only reads"):
            keys.create(database, "cell", scopes, in_query=True)
    for scopes in ((), ("admin",)):
        with pytest.raises(ValueError, match="scopes"):
            keys.create(database, "x", scopes)


def test_its_last_use_is_noted_to_the_minute(database: Database) -> None:
    whole = keys.create(database, "till", ("read",))[1]
    keys.check(database, whole)
    first = keys.listed(database)[0].last_used
    assert first is not None
    keys.check(database, whole)
    assert keys.listed(database)[0].last_used == first
    with database.write() as connection:
        connection.execute(update(tables.keys).values(last_used=ago(seconds=61)))
    keys.check(database, whole)
    assert (keys.listed(database)[0].last_used or "") >= first


def test_a_use_is_not_noted_while_another_writes_but_the_key_is_good(file: Database) -> None:
    whole = keys.create(file, "till", ("read",))[1]
    with file.write():
        assert keys.check(file, whole).name == "till"
    assert keys.listed(file)[0].last_used is None


def test_an_unknown_id_is_compared_as_a_wrong_secret_is(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = keys.create(database, "till", ("read",))[1]
    compared: list[tuple[str, str]] = []

    def noted(kept: str, shown: str) -> bool:
        compared.append((kept, shown))
        return False

    monkeypatch.setattr(hmac, "compare_digest", noted)
    for wrong in (whole, f"alloyref_{'0' * 16}_{whole.rpartition('_')[2]}"):
        with pytest.raises(KeyRefused, match="not a key"):
            keys.check(database, wrong)
    assert [len(kept) for kept, _ in compared] == [64, 64]
    assert compared[0][1] == compared[1][1] != whole.rpartition("_")[2]
