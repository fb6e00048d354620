"""Devices, persons and PINs: who gets in, who is at work, who may sign."""

import json
import re
import stat
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from gaugewright.errors import FileError, InputError
from gaugewright.records.proof import Person
from gaugewright.settings import Settings
from gaugewright.store.campaign import JournalHead
from gaugewright.web import people as people_module
from gaugewright.web.app import create_app
from gaugewright.web.people import People, Someone
from tests.web.conftest import BASE

AB = Someone("AB", "A. Bonder (invented)", "bonds")


class Clock:
    def __init__(self) -> None:
        self.now = 1_000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def people(tmp_path: Path, clock: Clock, monkeypatch: pytest.MonkeyPatch) -> People:
    # As in the app but for the cost of a try, which many of these tests would pay.
    monkeypatch.setitem(people_module.COST, "n", 1 << 4)
    return People(tmp_path / "kept.json", clock=clock)


class TestPin:
    def test_the_right_pin_is_taken_and_another_is_not(self, people: People) -> None:
        people.set_pin("AB", "2468")
        people.check_pin("AB", "2468")
        for wrong in ("2469", "", "02468", "246", "二四六八"):
            with pytest.raises(InputError, match="PIN of AB"):
                people.check_pin("AB", wrong)
            people._wrong.clear()  # the pause is tried below

    @pytest.mark.parametrize("pin", ["", "123", "1" * 13, "12a4", " 1234", "१२३४", "12 34"])
    def test_a_pin_that_cant_be_typed_on_a_keypad_is_refused(
        self, people: People, pin: str
    ) -> None:
        with pytest.raises(InputError, match="4 to 12 digits"):
            people.set_pin("AB", pin)
        assert not people.has_pin("AB")

    def test_no_error_and_no_file_holds_the_pin(self, people: People, tmp_path: Path) -> None:
        people.set_pin("AB", "86420975")
        with pytest.raises(InputError) as caught:
            people.check_pin("AB", "13579135")
        assert "13579135" not in str(caught.value)
        assert "86420975" not in (tmp_path / "kept.json").read_text(encoding="utf-8")

    def test_the_same_pin_of_two_people_is_kept_differently(
        self, people: People, tmp_path: Path
    ) -> None:
        people.set_pin("AB", "2468")
        people.set_pin("CD", "2468")
        kept = json.loads((tmp_path / "kept.json").read_text(encoding="utf-8"))["pins"]
        assert kept["AB"]["hash"] != kept["CD"]["hash"]

    def test_only_who_knows_a_pin_can_change_it(self, people: People) -> None:
        people.set_pin("AB", "2468")
        for old in ("", "1111"):
            with pytest.raises(InputError, match="PIN of AB"):
                people.set_pin("AB", "9999", old=old)
        people.check_pin("AB", "2468")
        people.set_pin("AB", "9999", old="2468")
        people.check_pin("AB", "9999")

    def test_somebody_without_a_pin_cant_sign(self, people: People) -> None:
        with pytest.raises(InputError, match="set before signing"):
            people.check_pin("AB", "")

    def test_after_five_wrong_ones_even_the_right_one_waits_a_minute(
        self, people: People, clock: Clock
    ) -> None:
        people.set_pin("AB", "2468")
        for _ in range(5):
            with pytest.raises(InputError, match="PIN of AB"):
                people.check_pin("AB", "1111")
        with pytest.raises(InputError, match="wait a minute"):
            people.check_pin("AB", "2468")
        clock.now += 60
        people.check_pin("AB", "2468")

    def test_the_cost_of_a_try_is_what_makes_guessing_slow(self) -> None:
        assert people_module.COST["n"] >= 1 << 14
        assert people_module.COST["r"] == 8


class TestFile:
    def test_only_its_owner_can_read_it(self, people: People, tmp_path: Path) -> None:
        people.add_device("tablet")
        assert stat.S_IMODE((tmp_path / "kept.json").stat().st_mode) == 0o600

    def test_devices_persons_and_pins_are_there_again_after_a_restart(
        self, people: People, tmp_path: Path
    ) -> None:
        secret = people.add_device("tablet", AB)
        people.set_pin("AB", "2468")
        again = People(tmp_path / "kept.json")
        found = again.device(secret)
        assert found is not None
        assert (found.name, found.person) == ("tablet", AB)
        again.check_pin("AB", "2468")

    @pytest.mark.parametrize("text", ["", "{", "[]x", "\x00"])
    def test_a_spoilt_file_is_named_and_not_overwritten(self, tmp_path: Path, text: str) -> None:
        path = tmp_path / "kept.json"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(FileError, match=r"^kept\.json"):
            People(path)
        assert path.read_text(encoding="utf-8") == text


class TestCode:
    def test_it_lets_one_device_in_with_the_person_it_was_made_for(self, people: People) -> None:
        code = people.new_code(AB)
        device = people.device(people.pair_by_code(code, "tablet"))
        assert device is not None
        assert device.person == AB
        with pytest.raises(InputError, match="one that a paired device shows now"):
            people.pair_by_code(code, "second")

    def test_case_blanks_and_dashes_dont_matter(self, people: People) -> None:
        code = people.new_code(None)
        assert people.pair_by_code(f" {code[:4].lower()}-{code[4:]} ", "tablet")

    def test_it_holds_for_five_minutes(self, people: People, clock: Clock) -> None:
        code = people.new_code(None)
        clock.now += 301
        with pytest.raises(InputError, match="five minutes"):
            people.pair_by_code(code, "tablet")

    def test_guessing_is_stopped_after_five_tries(self, people: People) -> None:
        code = people.new_code(None)
        for _ in range(5):
            with pytest.raises(InputError, match="one that a paired device shows now"):
                people.pair_by_code("WRONG", "x")
        with pytest.raises(InputError, match="wait a minute"):
            people.pair_by_code(code, "x")
        assert people.devices() == ()


class TestPages:
    def test_choosing_a_person_puts_the_name_on_every_page(self, client: TestClient) -> None:
        answer = client.post("/people/choose", data={"label": "AB"})
        assert answer.url == f"{BASE}/people"
        assert "A. Bonder (invented) is at work on this device" in answer.text
        assert "A. Bonder (invented)" in client.get("/c/beam/plan").text

    def test_nobody_unknown_can_be_chosen(self, client: TestClient) -> None:
        assert client.post("/people/choose", data={"label": "ZZ"}).status_code == 422
        assert "Nobody is named" in client.get("/people").text

    def test_somebody_new_enters_a_campaign_with_the_first_thing_written(
        self, app: FastAPI, client: TestClient, head: Callable[[], JournalHead]
    ) -> None:
        before = head()
        client.post("/people/new", data={"label": "NN", "name": "N. Newcomer (invented)"})
        client.get("/c/beam/plan")
        assert head() == before  # looking is no entry
        room = app.state.rooms.room("beam", None)
        written = room.store.add(Person(label="XX", name="X. (invented)"))
        client.post("/c/beam/undo", data={"uid": written.uid, "version": "1"})
        taken_back = room.store.entry(written.uid)
        assert taken_back.withdrawn
        assert room.store.entry(taken_back.person).record.label == "NN"

    def test_nothing_is_written_by_nobody(
        self, app: FastAPI, client: TestClient, head: Callable[[], JournalHead]
    ) -> None:
        room = app.state.rooms.room("beam", None)
        written = room.store.add(Person(label="XX", name="X. (invented)"))
        before = head()
        answer = client.post("/c/beam/undo", data={"uid": written.uid, "version": "1"})
        assert answer.status_code == 422
        assert "choose under People" in answer.text
        assert head() == before

    def test_a_label_that_somebody_has_isnt_given_twice(self, client: TestClient) -> None:
        answer = client.post("/people/new", data={"label": "AB", "name": "Another"})
        assert answer.status_code == 422
        assert 'id="label-wrong"' in answer.text

    def test_a_pin_is_set_on_the_page_and_is_in_no_campaign(
        self, app: FastAPI, client: TestClient, head: Callable[[], JournalHead]
    ) -> None:
        before = head()
        client.post("/people/choose", data={"label": "AB"})
        assert client.post("/people/pin", data={"pin": "12"}).status_code == 422
        assert client.post("/people/pin", data={"pin": "2468"}).status_code == 200
        app.state.people.check_pin("AB", "2468")
        assert client.post("/people/pin", data={"pin": "1357", "old": "1"}).status_code == 422
        assert head() == before

    def test_a_second_browser_pairs_by_the_code_that_the_first_shows(
        self, app: FastAPI, client: TestClient
    ) -> None:
        shown = client.post("/people/pair", data={"label": "AB"}).text
        code = re.search(r'class="code">([A-Z0-9 ]+)<', shown)
        assert code is not None
        with TestClient(app, base_url=BASE, headers={"origin": BASE}) as second:
            form = {"code": code[1], "device": "tablet"}
            assert second.post("/pair", data=form, follow_redirects=False).status_code == 303
            assert "A. Bonder (invented) is at work" in second.get("/people").text
            assert "tablet, this one" in second.get("/people").text

    def test_a_code_in_an_address_pairs_only_when_the_form_is_sent(
        self, app: FastAPI, client: TestClient
    ) -> None:
        code = app.state.people.new_code(None)
        with TestClient(app, base_url=BASE) as second:
            assert f'value="{code}"' in second.get("/pair", params={"code": code}).text
            assert second.get("/", follow_redirects=False).status_code == 303
        assert len(app.state.people.devices()) == 1

    def test_the_square_to_be_read_is_there_only_where_other_devices_are_allowed(
        self, client: TestClient, home: Path, in_force: Settings
    ) -> None:
        assert 'class="qr"' not in client.post("/people/pair").text
        address = "http://192.168.1.20:8710"
        lan = create_app(
            in_force, home, token="t", lan=True, hosts=("192.168.1.20",), lan_address=address
        )
        with TestClient(lan, base_url=BASE, headers={"origin": BASE}) as other:
            other.get("/", params={"key": "t"})
            shown = other.post("/people/pair").text
            assert 'class="qr"' in shown
            assert f"{address}/pair" in shown

    def test_people_of_the_laboratory_can_be_chosen(self, home: Path, tmp_path: Path) -> None:
        from gaugewright import settings

        folder = tmp_path / "laboratory"
        folder.mkdir()
        told = '[[person]]\nlabel = "LE"\nname = "L. Engineer (invented)"\n'
        (folder / "people.toml").write_text(told, encoding="utf-8")
        chosen = settings.load(
            {"laboratory": str(folder)}, environment={}, user_folder=tmp_path / "no settings"
        )
        app = create_app(chosen, home, token="t")
        with TestClient(app, base_url=BASE, headers={"origin": BASE}) as client:
            client.get("/", params={"key": "t"})
            assert "L. Engineer (invented)" in client.get("/people").text
