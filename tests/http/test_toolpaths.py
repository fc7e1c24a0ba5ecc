"""POST /v1/measurements of a toolpath: filament, layers and minutes, whatever is in the file."""

import asyncio
import hashlib
from pathlib import Path
from typing import Any

import httpx
import pytest
from msgspec import UnsetType

from gramhour_service.http import toolpaths
from gramhour_service.http.settings import Settings
from gramhour_service.measuring.toolpath_apart import ToolpathLimits
from tests import demo
from tests.cube import CUBE
from tests.cube_toolpath import AREA_MM2, BEADS, CUBE_GCODE, LAYERS
from tests.http.door import BOUND, Door, make_shop, opened, problem_of, secret

PATH = "/v1/measurements"
GCODE = "text/x.gcode"
LARGE = {"machine": "large", "material": "asa-green"}
ASA_G_CM3 = 1.07  # as the demo's sheet has it


def sent(
    door: Door, content: bytes, key: str | None = "cost", media_type: str = GCODE, **params: str
) -> Any:
    headers = {"Content-Type": media_type}
    return door.ask("POST", PATH, key, content=content, headers=headers, params=params or LARGE)


def faults_of(answer: Any) -> list[tuple[str, str]]:
    assert answer.status_code == 422
    kind, faults = problem_of(answer)
    assert kind == "invalid-request"
    return [(fault["parameter"], fault["detail"]) for fault in faults]


def test_a_cube_holds_what_it_must_in_as_many_layers_as_it_has(shop: Door) -> None:
    answer = sent(shop, CUBE_GCODE)
    assert answer.status_code == 200
    told = answer.json()
    assert told["digest"] == hashlib.sha256(CUBE_GCODE).hexdigest()
    assert (told["media_type"], told["machine"], told["layers"]) == (GCODE, "large", LAYERS)
    (tool,) = told["tools"]
    assert (tool["tool"], tool["material"]) == (0, "asa-green")
    assert tool["volume_mm3"] == pytest.approx(1000, abs=0.001)
    assert tool["filament_mm"] == pytest.approx(1000 / AREA_MM2, abs=0.001)
    assert tool["mass_g"] == pytest.approx(ASA_G_CM3, abs=0.001)
    assert told["box"] == {
        "low": {"x_mm": 0.0, "y_mm": 0.25, "z_mm": 0.2},
        "high": {"x_mm": 10.0, "y_mm": 9.75, "z_mm": 10.0},
    }
    assert told["not_read"] == [{"code": "M104", "times": 1}]
    assert (told["rates_revision"], told["rates_on"]) == (1, "2026-12-01")
    assert answer.headers["cache-control"] == "no-store"


def test_minutes_are_called_an_estimate_by_the_machine_that_was_named(shop: Door) -> None:
    slow, fast = (
        sent(shop, CUBE_GCODE, machine=machine, material="asa-green").json()
        for machine in ("small-2", "large")
    )
    assert "estimated by the motion of machine 'small-2'" in slow["basis"]
    assert slow["print_min"] > fast["print_min"]
    at_feed = LAYERS * BEADS * 10 / 50 / 60
    assert fast["print_min"] > fast["laying_min"] > at_feed
    # 1 mm³ on 10 mm, at 50 mm/s at most
    assert fast["mean_flow_mm3_s"] < fast["peak_flow_mm3_s"] == pytest.approx(5.0, abs=0.001)


def test_a_line_takes_its_length_over_its_speed_and_the_time_to_speed_up_and_stop(
    shop: Door,
) -> None:
    """Uniform acceleration from rest (any textbook of mechanics): t = L/v + v/2a + v/2d."""
    machines = demo.sheet().machines
    assert not isinstance(machines, UnsetType)
    motion = machines["large"].motion
    assert not isinstance(motion, UnsetType)
    rise, fall = float(motion.acceleration_mm_s2), float(motion.deceleration_mm_s2)
    seconds = 1500 / 250 + 250 / (2 * rise) + 250 / (2 * fall)
    told = sent(shop, b"G1 X1500 E50 F15000").json()
    assert told["print_min"] == round(seconds / 60, 3)


def test_each_tool_is_fed_with_its_material(shop: Door) -> None:
    content = b"M83\nG1 X10 E10 F600\nT1\nG1 X20 E20\n"
    told = sent(shop, content, machine="large", material="0:asa-green, 1:pla-chalk").json()
    assert [(each["tool"], each["material"], each["filament_mm"]) for each in told["tools"]] == [
        (0, "asa-green", 10.0),
        (1, "pla-chalk", 20.0),
    ]


@pytest.mark.parametrize(
    "part",
    [
        ("cube.gcode", CUBE_GCODE, GCODE),
        ("Cube.GCODE", CUBE_GCODE, "application/octet-stream"),
        ("cube", CUBE_GCODE, "Text/X.Gcode"),
    ],
    ids=["told", "by its name", "in capitals"],
)
def test_a_form_may_carry_the_file(shop: Door, part: tuple[str, bytes, str]) -> None:
    answer = shop.ask("POST", PATH, "cost", files={"file": part}, params=LARGE)
    assert (answer.status_code, answer.json()["layers"]) == (200, LAYERS)


def test_every_line_at_fault_is_told(shop: Door) -> None:
    answer = sent(shop, b"G21\nG1 X\nG1 X10 E1 F600\nG18\nM82 \x00\n")
    assert answer.status_code == 422
    kind, faults = problem_of(answer)
    assert kind == "cannot-be-measured"
    assert faults == [
        {"detail": "'X' is not a letter followed by a number", "line": 2},
        {"detail": "G18: arcs are read in the plane XY only", "line": 4},
        {
            "detail": "the line holds bytes that are no text; is the file packed or damaged?",
            "line": 5,
        },
    ]


def test_what_is_fed_by_a_tool_without_a_material_is_told_with_its_line(shop: Door) -> None:
    kind, faults = problem_of(sent(shop, b"M83\nG1 X10 E1 F600\nT1\nG1 X20 E1\n"))
    assert (kind, [fault["line"] for fault in faults]) == ("cannot-be-measured", [4])
    assert "tool 1" in faults[0]["detail"]


@pytest.mark.parametrize("content", [b"", b"; nothing\n", CUBE], ids=["empty", "a comment", "mesh"])
def test_what_is_no_toolpath_is_told(shop: Door, content: bytes) -> None:
    answer = sent(shop, content)
    assert (answer.status_code, problem_of(answer)[0]) == (422, "cannot-be-measured")


def test_a_file_may_be_larger_than_other_bodies_but_not_too_large(shop: Door) -> None:
    assert sent(shop, CUBE_GCODE + b";" * 11_000_000).status_code == 200
    answer = sent(shop, bytes(64_000_001))
    assert (answer.status_code, problem_of(answer)[0]) == (413, "body-too-large")


def test_a_file_that_takes_too_long_is_told_so(shop: Door, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(toolpaths, "LIMITS", ToolpathLimits(seconds=1))
    answer = sent(shop, b"M83\n" + b"G1 X1 E1\nG1 X0 E1\n" * 1_000_000)
    assert (answer.status_code, problem_of(answer)[0]) == (422, "cannot-be-measured")
    assert "takes more than 1 s" in answer.json()["detail"]


def test_machine_and_material_are_both_asked_for(shop: Door) -> None:
    faults = faults_of(sent(shop, CUBE_GCODE, rates_on="2026-12-01"))
    assert [name for name, _ in faults] == ["machine", "material"]


def test_every_fault_of_the_parameters_is_told_at_its_place(shop: Door) -> None:
    told = faults_of(
        sent(
            shop,
            CUBE_GCODE,
            machine="larg",
            material="asa-gren,1:,x:pla-chalk,0:asa-green",
            rates_revision="99",
            colour="green",
        )
    )
    assert [name for name, _ in told] == [
        "colour", "rates_revision", "machine", "material", "material", "material", "material",
    ]  # fmt: skip
    says = [detail for _, detail in told]
    assert "the newest is 1" in says[1]
    assert says[2] == "the rates have no machine 'larg'; did you mean 'large'?"
    assert "tool 0 has two materials" in says[5]
    assert says[6] == "the rates have no material 'asa-gren'; did you mean 'asa-green'?"


def test_more_materials_than_tools_are_one_fault(shop: Door) -> None:
    many = ",".join(f"{tool}x:asa" for tool in range(101))
    told = faults_of(sent(shop, CUBE_GCODE, machine="large", material=many))
    assert told == [("material", "names 101 materials; there are 100 tools at most")]


def test_rates_that_do_not_say_enough_are_told_where(tmp_path: Path) -> None:
    path = make_shop(tmp_path / "gramhour.sqlite")
    with opened(Settings(store=path)) as door:
        for kind, code, missing in (
            ("machines", "large", ("motion",)),
            ("materials", "asa-green", ("diameter_mm", "density_g_cm3")),
        ):
            stored = door.ask("GET", f"/v1/rates/{kind}/{code}", "rates")
            value = {k: v for k, v in stored.json()["value"].items() if k not in missing}
            seen = {"If-Match": stored.headers["etag"]}
            rate = f"/v1/rates/{kind}/{code}"
            assert door.ask("PUT", rate, "rates", json=value, headers=seen).is_success
        faults = faults_of(sent(door, CUBE_GCODE))
        assert [name for name, _ in faults] == ["machine", "material"]
        assert "do not say how 'large' moves" in faults[0][1]
        assert "no diameter_mm and density_g_cm3 of 'asa-green'" in faults[1][1]
        as_before = sent(door, CUBE_GCODE, **LARGE, rates_revision="1")
        assert (as_before.status_code, as_before.json()["rates_revision"]) == (200, 1)


def test_a_machines_motion_is_given_whole_and_within_bounds(tmp_path: Path) -> None:
    with opened(Settings(store=make_shop(tmp_path / "gramhour.sqlite"))) as door:
        stored = door.ask("GET", "/v1/rates/machines/large", "rates")
        value = stored.json()["value"]
        del value["motion"]["deceleration_mm_s2"]
        value["motion"] |= {"corner_speed_change_mm_s": 0, "speed_mm_s": "10000.1"}
        seen = {"If-Match": stored.headers["etag"]}
        answer = door.ask("PUT", "/v1/rates/machines/large", "rates", json=value, headers=seen)
        kind, faults = problem_of(answer)
    assert kind == "invalid-request"
    assert {fault["pointer"].rpartition("/motion")[2] for fault in faults} == {
        "/deceleration_mm_s2", "/corner_speed_change_mm_s", "/speed_mm_s",
    }  # fmt: skip


def test_without_rates_there_is_nothing_to_measure_by(tmp_path: Path) -> None:
    with opened(Settings(store=tmp_path / "gramhour.sqlite")) as door:
        answer = sent(door, CUBE_GCODE, None)
        assert (answer.status_code, problem_of(answer)[0]) == (422, "no-rates")


@pytest.mark.parametrize("key", ["price", "bound"])
def test_a_price_key_may_have_meshes_measured_and_no_toolpath(shop: Door, key: str) -> None:
    """A toolpath may claim any speed and any amount."""
    file = ("cube.gcode", CUBE_GCODE, GCODE)
    for answer in (
        sent(shop, CUBE_GCODE, key),
        sent(shop, b"", key, machine="larg"),
        shop.ask("POST", PATH, key, params=LARGE, files={"file": file}),
    ):
        assert (answer.status_code, problem_of(answer)[0]) == (403, "key-may-not")
        assert "scope cost" in answer.json()["detail"]
        assert "large" not in answer.text
    assert shop.ask("POST", PATH, key, files={"file": ("c.stl", CUBE)}).status_code == 200


def test_who_sent_no_key_is_told_so_where_one_is_needed(shop_path: Path) -> None:
    with opened(Settings(store=shop_path, public_quotes=True)) as door:
        assert sent(door, CUBE_GCODE, None).status_code == 401
        for path, needs in (("/v1/quotes?view=cost", "cost"), ("/v1/repricings", "listings")):
            told = door.ask("POST", path, json={}).json()
            assert (told["status"], told["detail"]) == (401, (
                f"this needs a key with scope {needs}, and none was sent; "
                "send a key: Authorization: Bearer KEY"
            ))  # fmt: skip
    with opened(Settings(store=shop_path)) as door:
        assert sent(door, CUBE_GCODE, None).status_code == 401
        assert sent(door, CUBE_GCODE, "operate").status_code == 403


def test_a_mesh_has_no_machine_and_no_material_without_a_profile(shop: Door) -> None:
    faults = faults_of(sent(shop, CUBE, "cost", "model/stl", **LARGE))
    assert [name for name, _ in faults] == ["machine", "material"]
    assert "says nothing of a mesh without a profile" in faults[0][1]


@pytest.mark.parametrize("name", ["service", "profile", "nozzle"])
def test_a_toolpath_has_been_prepared(shop: Door, name: str) -> None:
    faults = faults_of(sent(shop, CUBE_GCODE, **{**LARGE, name: "fine-04"}))
    assert [each for each, _ in faults] == [name]


def test_while_a_hostile_file_is_refused_other_requests_are_answered(shop_path: Path) -> None:
    """Nonsense that is only counted, so that all 50,000 lines are read, and then worse."""
    garbage = [b"NONSENSE %d }{ ;\n" % line for line in range(49_900)]
    garbage += [b"G1 X%d Y\xff\n" % line for line in range(100)]
    with opened(Settings(store=shop_path)) as door:
        refusal, answers = asyncio.run(_meanwhile(door, b"".join(garbage)))
    kind, faults = problem_of(refusal)
    assert kind == "cannot-be-measured"
    assert [fault["line"] for fault in faults] == list(range(49_901, 50_001))
    assert len(answers) >= 3
    assert {answer.status_code for answer in answers} == {200}


async def _meanwhile(door: Door, content: bytes) -> tuple[httpx.Response, list[httpx.Response]]:
    """Have a file measured, and ask for the rates again and again until that is answered."""
    app: Any = door.app
    headers = {"Authorization": f"Bearer {secret('cost')}", "Content-Type": GCODE}
    async with httpx.AsyncClient(
        transport=httpx.ASGITransport(app=app), base_url=f"http://{BOUND}", headers=headers
    ) as client:
        measuring = asyncio.create_task(client.post(PATH, content=content, params=LARGE))
        answers = []
        while not measuring.done():
            answers.append(await client.get("/v1/rates"))
            await asyncio.sleep(0.001)
        return await measuring, answers
