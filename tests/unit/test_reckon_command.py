"""`prepwright reckon`: every calculation is reached, says its source, and refuses in words.

Figures are those of `tests/published`, taken through the command; the source of each stands there
and beside the few that are named here.
"""

from __future__ import annotations

import json
import shlex
import shutil

import pytest

import cli.consult
from cli.commands.reckon import _RECKONINGS
from cli.commands.reckon import reckon as reckon_group
from cli.main import run
from engine.supplied import supplied_ruleset_folder

_LOADED = {}


@pytest.fixture(autouse=True)
def loaded_once(monkeypatch):
    real = cli.consult.load

    def load(folder=None, *, with_cases=False):
        key = folder or supplied_ruleset_folder()
        if key not in _LOADED:
            _LOADED[key] = real(folder)
        return _LOADED[key]

    monkeypatch.setattr(cli.consult, "load", load)


def reckon(capsys, line):
    code = run(["reckon", *shlex.split(line)])
    return code, *capsys.readouterr()


def flat(text):
    return " ".join(text.split())


DEW = "dew-point --air 20C --humidity 60%"
PA2 = "acceptance --by pa2 --readings '100,110,105,120,95 um' --minimum 100um --maximum 150um"
ISO = "acceptance --by iso19840 --readings '100,110,105,120,95 um' --minimum 60um"
MIX = "mix --volume 1L --part clear=2 --part hardener=1"
BAKE = (
    "bake --hold 30min --target 60C --metal 20C --trial-time 10min --trial-reached 45C --oven 70C"
)
LAMPS = "bake --hold 30min --target 60C --metal 20C --trial-time 10min --trial-reached"
CONTENTS = (
    "voc --volume 1L --volatiles 500g --water 100g --water-volume 100ml "
    "--exempt 0g --exempt-volume 0L"
)

SAYS = [
    ("gauge --readings '-0.1, 0.1, -0.2 mil'", ["passed", "Mean: -0.067 mil"]),
    ("gauge --readings '-0.3 mil'", ["failed", "Error: -0.3 mil"]),
    # psychrolib and WMO-No. 8 put the dew point of 20 degC and 60 % at 12.0 degC.
    (DEW, ["Dew point: 12 degC", "WMO-No. 8"]),
    ("dew-point --air 68F --humidity 60%", ["Dew point: 53.6 degF"]),
    (DEW + " --surface 14C", ["Margin: 2 degC", "warm the surface by 1 degC", "prime at once"]),
    (DEW + " --surface 20C", ["Margin: 8 degC", "within the limits", "3 degC [ISO 8502-4 1993]"]),
    (DEW + " --surface 14C --margin 1C", ["within the limits"]),
    ("humidity --air 20C --dew-point 12C", ["Relative humidity: 60 %"]),
    (
        "humidity --air 25C --wet-bulb 18C --pressure 1013hPa --hygrometer 45%",
        ["Relative humidity: 50.7 %", "disagree"],
    ),
    (
        "humidity --air 25C --wet-bulb 18C --pressure 1013hPa --dew-point 14C",
        ["Wet bulb and dew-point meter: agree"],
    ),
    (
        "humidity --air 25C --wet-bulb 18C --pressure 1013hPa --dew-point 10C",
        ["Wet bulb and dew-point meter: disagree"],
    ),
    ("hardener --filler 200g", ["Hardener wanted: 4 g", "common practice"]),
    ("hardener --filler 200g --added 5g", ["Added: 2.5 %", "within the limits"]),
    ("hardener --filler 200g --added 1g", ["too little"]),
    ("hardener --filler 200g --added 7g", ["too much"]),
    # A face of 14 by 9 ft at 100 ft/min lets 12 600 ft3/min through (derived from both).
    (
        "booth-flow --face-width 168in --face-height 108in --velocity 0.508",
        ["12600 ft3/min", "never clear"],
    ),
    ("survey --readings '5.0, 5.1, 5.0, 5.1, 4.9, 9.8 mil'", ["Odd spots: 6", "likely"]),
    ("survey --readings '5.0, 5.1 mil'", ["below, the test is blind", "no sign of them"]),
    # SSPC-PA 2 (read): one area for each started 100 ft2 up to 300 ft2, five spots of three.
    ("spots --area 200ft2", ["2 areas, 10 spots, 30 gauge readings"]),
    (PA2 + " --level 3", ["meets the specification", "80 um to 180 um", "100 um to 150 um"]),
    (PA2 + " --level 1", ["does not meet it", "spots outside: 5"]),
    (ISO + " --profile medium", ["meets the specification", "Mean, corrected: 81 um"]),
    (ISO + " --profile coarse --maximum 70um", ["does not meet it", "Too thick: readings 4"]),
    ("gauge --readings '5.1, 5.0 mil' --known 5mil --tolerance 0.2mil", ["passed"]),
    (
        # 3 % and 4 % together make 5 % (SSPC-PA 2, root of the sum of squares, from memory).
        "gauge --readings '105 um' --known 100um --gauge-accuracy 3% --shim-accuracy 4%",
        ["passed", "Allowed: 5 um"],
    ),
    ("gauge --readings '0.2 mil'", ["failed", "suspect"]),
    ("build --film 5mil --coat 2mil --coat 1mil --coat 2mil", ["Film afterwards: 9.5 mil"]),
    (
        "build --film 10mil --coat 4mil",
        ["Over the limit by: 1.5 mil", "Must come off first: 2 mil"],
    ),
    ("build --film 2mil --coat 4mil --substrate steel", ["in reach of the sanding"]),
    ("filler --area 0.1m2 --depth 2mm --shape even", ["286 ml", "Layers: 1", "fingernail"]),
    ("filler --area 0.1m2 --depth 7mm --shape cone", ["work the metal first", "Layers: 3"]),
    # 1604 ft2 of one mil from a gallon of solids is printed in coatings handbooks.
    ("coverage --dry-film 1mil --solids 100% --thinner 0%", ["1604 ft2/gal"]),
    ("coverage --wet-film 5mil --solids 50% --thinner 25%", ["Dry film: 2 mil"]),
    # 1604 over the wet mil is printed there too.
    (
        "coverage --wet-film 4mil --solids 50% --thinner 25%",
        ["Spreading rate, thinned: 9.84 m2/L", "The same, thinned: 401 ft2/gal"],
    ),
    (
        "coverage --dry-film 50um --solids 50% --thinner 0% --area 3m2 --coats 2 --efficiency 60% "
        "--loss 0%",
        ["Spreading rate, unthinned: 10 m2/L", "unthinned: 500 ml", "Wet film of each coat: 50 um"],
    ),
    (MIX, ["clear: 667 ml", "hardener: 333 ml"]),
    (MIX + " --add thinner=10% --of whole-mix", ["thinner: 91 ml", "of the whole mix"]),
    (MIX + " --add thinner=10% --of first-part", ["thinner: 62.5 ml", "of the first part"]),
    (
        MIX + " --density clear=1kg/L --density hardener=1.1kg/L",
        ["666.7 g", "1033.3 g, 366.7 g more"],
    ),
    (MIX + " --solids clear=50% --solids hardener=20%", ["Solids by volume of the mix: 40 %"]),
    (
        MIX + " --pot-life 1h --rate 0.5",
        ["Batches: 3", "Most in a batch: 350 ml", "70 % [common practice]"],
    ),
    (MIX + " --can 0.5L --can 0.25L", ["1 x 0.5L + 1 x 0.25L", "Left over: 83 ml"]),
    (CONTENTS, ["less-water: 444 g/L", "as-is: 400 g/L"]),
    (CONTENTS + " --region eu --category topcoat", ["420 g/L", "over by 24 g/L", "Annex II B"]),
    (
        "voc --figure 600g/L --basis less-water-and-exempt --region us --category "
        "single-or-two-stage-topcoat",
        ["not over", "from memory", "Nobody said whose rules hold", "never clearance"],
    ),
    # 40 CFR 59.104(a)(2) (terms read): base once, clear twice, over three.
    ("voc-average --base 600g/L --clear 420g/L", ["Average: 480 g/L", "59.104(a)(2)"]),
    (
        "voc-mix --part clear=2L --part thinner=1L --voc clear=400g/L --voc thinner=850g/L",
        ["550 g/L"],
    ),
    ("grits --from P80 --to P320", ["P80 > P150 > P320", "P80 > P120 > P220 > P320", "201 um"]),
    (
        "grits --from P80 --to P320 --rule ratio --stock P80 --stock P180 --stock P320",
        ["P80 > P180 > P320"],
    ),
    (
        "grits --step --from P80 --to P180",
        [
            "By grain ratio: small enough: a grain ratio of 2.451, at most 2.5",
            "By numbers: small enough: 100 numbers, at most 100",
            "abrasives.step-ratio: 2.5 [common practice]",
            "abrasives.number-rule",
        ],
    ),
    (
        "grits --step --from P400 --to P800",
        [
            "By grain ratio: small enough: a grain ratio of 1.606, at most 2.5",
            "By numbers: too large: 3 grades, at most 2",
            "Furthest from P400 by numbers: P600",
            "the lead decides which holds",
        ],
    ),
    (
        "grits --step --from P400 --to P2000 --rule numbers --stock P400 --stock P2000",
        ["too large: 7 grades, at most 2", "no finer grade is near enough"],
    ),
    ("grits --step --from P400 --to P500 --rule numbers", ["small enough: 1 grade, at most 2"]),
    (
        "cure --product clearcoat --metal 30C",
        [
            "Cured: 8 h",
            "2 times faster at 30 degC than at 20 degC is an activation energy of 51 kJ/mol",
            "chemical cure only",
        ],
    ),
    (
        "cure --metal 10C --time 8h --at 20C --faster 2 --per 10C --lowest 5C --highest 40C "
        "--span 15C",
        ["Time: 16 h"],
    ),
    (
        # The energy that makes 20 to 30 degC an exact doubling (derived).
        "cure --metal 30C --time 16h --at 20C --activation 51.2 --lowest 10C --highest 40C",
        ["Time: 8 h", "Arrhenius"],
    ),
    ("filler --area 0.1m2 --depth 5mm --shape dish --between 30min", ["Waiting in all: 2 h"]),
    (BAKE, ["In all: 53 min", "Air above 65 degC"]),
    (f"{BAKE} --after 10min", ["Metal after 10 min: 45 degC", "the trial does not fit"]),
    # Three time constants are 95 % of the way: any handbook of Newton's law of heating.
    (
        "bake --hold 30min --target 60C --metal 20C --oven 120C --trial-time 20min "
        "--trial-reached 83.212C --after 1h",
        ["Time constant of the panel: 20 min", "Metal after 1 h: 115 degC"],
    ),
    (
        f"{LAMPS} 60C",
        [
            "Warming in a minute: 4 degC",
            "Until the metal is at temperature: 10 min",
            "In all: 40 min",
            "warming evenly through the trial",
        ],
    ),
    (f"{LAMPS.replace('60C', '140F')} 180F", ["Warming in a minute: 6.2 degC", "In all: 36 min"]),
    (f"{LAMPS.replace('60C', '80C')} 90C", ["Metal above 65 degC"]),
    ("recoat --elapsed 10min --opens 30min", ["too early", "Still to wait: 20 min"]),
    ("recoat --elapsed 1h --opens 30min --closes 72h", ["State: open", "Closes in: 71 h"]),
    ("recoat --elapsed 73h --opens 30min --closes 72h", ["closed"]),
    # ASTM D610 (read): over 3 up to 10 % is grade 4; over 0.01 up to 0.03 % is grade 9.
    ("rust --share 4% --spread S", ["ASTM D610: 4-S", "Ri 4"]),
    ("rust --share 0.03% --spread P", ["ASTM D610: 9-P", "Ri 1"]),
    ("rust --share 0%", ["ASTM D610: 10", "Ri 0"]),
    ("flaking --share 2% --size 5mm", ["4(S3)"]),
    ("adhesion --lost 5%", ["class 1", "3B"]),
    ("cut-test --film 100um --texture smooth", ["6 cuts, 2 mm apart"]),
    ("cut-test --film 300um --texture smooth", ["X-cut", "use a pull-off test"]),
    ("blisters --size 4 --frequency M", ["3(S4)"]),
    # 29 CFR 1910.1000(d)(1) (read): 81.25 ppm.
    (
        "twa --sample 150 2h --sample 75 2h --sample 50 4h --in ppm",
        ["81.25 ppm", "never clearance"],
    ),
    ("twa --sample 150 2h --in ppm", ["counts as no exposure"]),
    # 29 CFR 1910.1000(d)(2) (from memory): 0.925.
    ("mixture --part 500 1000 --part 45 200 --part 40 200 --in ppm", ["0.925", "not mean safe"]),
    # 29 CFR 1910.1025 appendix B (read): 40 over ten hours.
    ("long-shift --hours 10h", ["40 ug/m3", "For lead alone"]),
    # NIOSH Pocket Guide (read): 6.88 mg/m3 a ppm.
    ("vapour --molar-mass 168.2 --air 25C --pressure 1013.25hPa --ppm 1", ["6.88 mg/m3"]),
    ("vapour --molar-mass 100 --air 25C --pressure 1013.25hPa --mg-per-m3 4.09", ["ppm"]),
    (
        "dilution --density 0.87kg/L --molar-mass 92.1 --lel 1.2% --air 25C --pressure 1013.25hPa "
        "--evaporates 2L",
        ["76.11 m3", "152.2 m3/h", "Against fire only"],
    ),
]


@pytest.mark.parametrize(("line", "expected"), SAYS, ids=[line for line, _ in SAYS])
def test_a_reckoning_answers(capsys, line, expected):
    code, out, err = reckon(capsys, line)
    assert (code, err) == (0, "")
    shown = flat(out)
    for text in (*expected, "Formula:", "Source:"):
        assert text in shown


def test_every_reckoning_is_tried():
    assert {line.split()[0] for line, _ in SAYS} == set(_RECKONINGS)


REFUSED = [
    (
        "voc --volume 1L --volatiles 5kg --water 0g --water-volume 0L --exempt 0g "
        "--exempt-volume 0L",
        3,
        "densest solvent in paint weighs 1200 g",
    ),
    (
        "voc --volume 1L --volatiles 500g --water 100g --water-volume 1ml --exempt 0g "
        "--exempt-volume 0L",
        3,
        "100 g of water do not fill 0.001 L",
    ),
    (
        "voc --volume 1L --volatiles 500g --water 0g --water-volume 0L --exempt 100g "
        "--exempt-volume 500ml",
        3,
        "100 g of exempt solvents do not fill 0.5 L",
    ),
    ("voc --figure 5kg/L --basis as-is", 3, "--figure is 5000 g/L"),
    ("voc-average --base 420g/L --clear 5kg/L", 3, "--clear is 5000 g/L"),
    ("voc-mix --part clear=1L --voc clear=5kg/L", 3, "--voc clear is 5000 g/L"),
    ("gauge --readings '-4.9 mil' --known 5mil --tolerance 0.1mil", 3, "only bare metal"),
    ("survey --readings '-1 mil, 2 mil'", 3, "is negative"),
    ("dew-point --air 20C", 2, "Missing option '--humidity'. To get it: relative humidity"),
    ("dew-point --air 20 --humidity 60%", 3, "--air: `20` has no unit: is it 20 degC or 20 degF?"),
    ("dew-point --air 20C --humidity 0%", 3, "relative humidity (percent) is 0"),
    ("dew-point --air 20C --humidity 160%", 3, "must be from 0 to 100, not 160"),
    ("dew-point --air 200C --humidity 60%", 3, "above the highest plausible 60 degC"),
    ("dew-point --air -50C --humidity 60%", 3, "below the lowest plausible -30 degC"),
    ("survey --readings '5 mil, 0.25 in, 4 mil'", 3, "no plausible reading"),
    ("survey --readings '0.25 in'", 3, "0 in to 0.098 in is expected"),
    ("build --film 5mm --coat 1mil", 3, "highest plausible"),
    ("recoat --elapsed 99999h --opens 1h", 3, "highest plausible 2000 h"),
    ("vapour --molar-mass 5 --air 999C --pressure 1bar --ppm 5", 3, "highest plausible 60 degC"),
    ("twa --sample 5 20h --sample 4 6h --in ppm", 3, "26 h together, longer than a day"),
    ("dew-point --air nan --humidity 60%", 3, "does not start with a number"),
    ("humidity --air 20C --wet-bulb 25C --pressure 1bar", 3, "wick is wet"),
    ("humidity --air 20C --wet-bulb 15C", 3, "--pressure is missing"),
    ("humidity --air 20C", 3, "either --wet-bulb with --pressure, or --dew-point"),
    ("survey --readings '5, 4, 3'", 3, "has no unit"),
    ("survey --readings ''", 3, "holds no reading"),
    ("spots --area 0m2", 3, "more than 0"),
    (PA2, 3, "--level is missing: restriction level"),
    (PA2 + " --level 9", 3, "give one of 1, 2, 3, 4, 5"),
    (PA2 + " --level 3 --profile fine", 3, "--profile belongs to ISO 19840"),
    (ISO, 3, "--profile is missing: compare the blasted steel"),
    (ISO.replace("60um", "30um") + " --profile fine", 3, "where this method starts"),
    (ISO + " --profile fine --level 3", 3, "--level belongs to SSPC-PA 2"),
    ("gauge --readings '5 mil' --known 5mil", 3, "take them from the certificates"),
    ("gauge --readings '5 mil' --known 5mil --gauge-accuracy 3%", 3, "--shim-accuracy"),
    ("build --film 5mil --coat 20mil", 3, "plan fewer or thinner coats"),
    ("build --film 5mil --coat 2mil --sanded 6mil", 3, "goes through to the substrate"),
    ("hardener --filler 0g", 3, "must be more than 0"),
    ("booth-flow --face-width 400cm --face-height 200cm --velocity 0", 3, "more than 0"),
    ("filler --area 0.1m2 --depth 5mm", 2, "Missing option '--shape'"),
    ("filler --area 0.1m2 --depth -5mm --shape dish", 3, "is negative"),
    ("coverage --solids 45% --thinner 10%", 3, "either --dry-film"),
    ("coverage --dry-film 2mil --solids 45%", 2, "0% where none"),
    (
        "coverage --dry-film 2mil --solids 0% --thinner 0%",
        3,
        "--solids must be more",
    ),
    ("coverage --dry-film 2mil --solids 1% --thinner 0%", 3, "under 2 % no paint is expected"),
    ("coverage --dry-film 2mil --solids 45% --thinner 500%", 3, "over 150 % no data sheet"),
    ("mix --volume 1L --part a=1 --add thinner=500% --of whole-mix", 3, "--add thinner is 500 %"),
    ("build --film 3mil --coat 20mil", 3, "make 20 mil, over the limit of 12 mil"),
    ("build --film 0.2mil --coat 2mil", 3, "Sanding 0.5 mil off a film of 0.2 mil"),
    ("cut-test --film 0mil --texture smooth", 3, "there is no paint to cut"),
    ("filler --area 0m2 --depth 5mm --shape dish", 3, "--area is 0"),
    ("flaking --share 3% --size 0mm", 3, "--size is 0 though paint has flaked"),
    ("grits --from P80", 2, "Grade to end with"),
    ("grits --from P80 --to P400 --stock P1000", 3, "not among the grades given with --stock"),
    (
        "coverage --dry-film 2mil --solids 45% --thinner 0% --area 1m2 --loss 100%",
        3,
        "nothing is left",
    ),
    (MIX + " --add thinner=10%", 3, "(0.3 parts) or of clear alone (0.2 parts)"),
    ("mix --volume 1L --part clear", 3, "names no part"),
    ("mix --volume 1L --part clear=0", 3, "no parts"),
    (MIX + " --part clear=3", 2, "gives clear twice"),
    (MIX + " --solids thinner=0%", 3, "no part of the mix; its parts are clear, hardener"),
    (MIX + " --solids clear=50%", 3, "--solids of hardener is missing"),
    (MIX + " --density clear=1kg/L", 3, "density of hardener is missing"),
    (MIX + " --pot-life 1h", 3, "--rate is missing"),
    ("voc --volume 1L", 3, "--volatiles, --water, --water-volume, --exempt, --exempt-volume"),
    ("voc --figure 400g/L", 3, "--basis is missing"),
    ("voc --figure 400g/L --basis less-water --region eu", 3, "say what the mix is used for"),
    ("voc --figure 400g/L --basis as-is --region us --category specialty", 3, "limit's basis"),
    ("voc --figure 400g/L --basis as-is --volume 1L", 3, "not both"),
    (CONTENTS + " --region eu --category paint", 3, "it has bodyfiller-and-stopper"),
    ("voc-mix --part clear=2L --voc thinner=850g/L", 3, "without one: clear, thinner"),
    ("grits --from P800 --to P80", 3, "sand from coarse to fine"),
    ("grits --step --from P800 --to P80", 3, "sand from coarse to fine"),
    ("grits --from 80 --to P320", 3, "could be P80 or CAMI 80"),
    ("grits --from P80 --to P800 --stock P80 --stock P800", 3, "add a grade between them"),
    ("cure --metal 20C", 3, "--at is missing"),
    ("cure --metal 20C --at 20C", 3, "--faster, --per, --lowest, --highest, --span: missing"),
    ("cure --metal 30C --time 16h --at 20C --activation 51", 3, "--lowest is missing"),
    ("cure --metal 20C --product varnish", 3, "there is no product `varnish`"),
    ("cure --metal 5C --product clearcoat", 3, "where the rate rule holds"),
    (BAKE.replace("70C", "55C"), 3, "never reaches 60 degC"),
    (f"{LAMPS} 55C", 3, "the trial reached 55C, not the 60C of --target"),
    (f"{LAMPS} 20C", 3, "--trial-reached, 20C, is not above --metal, 20C"),
    (f"{LAMPS} 65C --after 5min", 3, "--after needs --oven"),
    (f"{LAMPS.replace('10min', '0min')} 65C", 3, "--trial-time must be more than 0"),
    ("recoat --elapsed 1h --opens 3h --closes 2h", 3, "before it opens"),
    ("rust --share 4%", 3, "how the rust is spread"),
    ("rust --share 120% --spread S", 3, "from 0 to 100"),
    ("blisters --size 4", 3, "how frequent"),
    ("twa --in ppm", 2, "sampling report"),
    ("twa --sample 150 2 --in ppm", 3, "is it 2 h or 2 min?"),
    ("mixture --part 500 0 --in ppm", 3, "limit must be more than 0"),
    ("long-shift --hours 30h", 3, "longer than a day"),
    ("vapour --molar-mass 100 --air 25C --pressure 1bar", 3, "either --ppm or --mg-per-m3"),
    (
        "dilution --density 1kg/L --molar-mass 92 --lel 0% --air 25C --pressure 1bar",
        3,
        "more than 0",
    ),
    ("dewpoint", 2, "Did you mean `dew-point`?"),
]


@pytest.mark.parametrize(("line", "code", "says"), REFUSED, ids=[line for line, _, _ in REFUSED])
def test_what_is_missing_or_impossible_is_refused_in_words(capsys, line, code, says):
    ended, out, err = reckon(capsys, line)
    assert ended == code
    assert out == ""
    assert says in flat(err)
    assert "Traceback" not in err


@pytest.mark.parametrize("name", _RECKONINGS)
def test_every_option_says_what_it_is(name):
    command = reckon_group.get_command(None, name)
    assert [option.name for option in command.params if not option.help] == []
    assert command.help


def test_json_gives_canonical_units_and_where_numbers_come_from(capsys):
    code, out, _ = reckon(capsys, "dew-point --air 68F --humidity 60% --surface 57.2F --json")
    assert code == 0
    found = json.loads(out)
    assert found["format"] == "prepwright/reckoning/1"
    assert found["given"] == {"air": "68F", "humidity": "60%", "surface": "57.2F"}
    by_name = {each["what"]: each for each in found["results"]}
    assert by_name["Dew point"]["unit"] == "degC"
    assert by_name["Dew point"]["value"] == pytest.approx(12.0, abs=0.02)
    assert found["from_rules"][0]["name"] == "air.dew-margin-least"
    assert found["from_rules"][0]["source"] == "ISO 8502-4 1993"


def test_the_group_alone_lists_every_reckoning(capsys):
    code, out, _ = reckon(capsys, "")
    assert code == 0
    assert all(f"  {name} " in out for name in _RECKONINGS)


def test_a_shop_s_own_limit_is_used(capsys, tmp_path):
    shutil.copytree(
        supplied_ruleset_folder(), tmp_path / "rules", ignore=shutil.ignore_patterns("cases")
    )
    limits = tmp_path / "rules" / "limits.yaml"
    text = limits.read_text("utf-8")
    assert text.count("abrasives.step-ratio:\n  value: 2.5") == 1
    limits.write_text(text.replace("step-ratio:\n  value: 2.5", "step-ratio:\n  value: 2"), "utf-8")
    line = "grits --from P80 --to P180 --rule ratio"
    _, supplied, _ = reckon(capsys, line)
    code, own, _ = reckon(capsys, f"{line} --ruleset {tmp_path / 'rules'}")
    assert code == 0
    assert "By grain ratio: P80 > P180" in supplied
    assert "By grain ratio: P80 > P120 > P180" in own
