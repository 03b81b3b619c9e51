"""Form files: what loads, and every fault with its file, entry, rule and near miss."""

from __future__ import annotations

from pathlib import Path

import pytest

from builders import TOP, form_of, write_form
from commission.definitions.dependencies import dependencies
from commission.definitions.load import load_form
from commission.definitions.model import (
    Basis,
    Check,
    Field,
    Form,
    Kind,
    Level,
    LimitKind,
    Quantity,
    Severity,
)
from commission.errors import FormError
from commission.formula.parse import parse

REPEATS = """
[[repeat]]
name = "circuit"
label = "Circuit {n}"
count = "circuits"
maximum = 4
[[repeat]]
name = "pair"
label = "{member}"
members = ["L1-L2", "L2-L3", "L3-L1"]
count = "3 if phases == '3' else 1"
maximum = 3
"""
CONFIGURATION = """
[section]
name = "configuration"
title = "Configuration"
[[field]]
name = "circuits"
label = "Refrigerant circuits"
kind = "integer"
[[field]]
name = "phases"
label = "Phases"
kind = "choice"
choices = ["1", "3"]
[[field]]
name = "metering"
label = "Metering"
kind = "choice"
choices = ["fixed orifice", "thermal valve"]
[[field]]
name = "rated_volts"
label = "Rated voltage"
unit = "V"
"""
COOLING = """
[section]
name = "cooling"
title = "Cooling"
repeat = "circuit"
when = "circuits > 0"
guarded_by = ["lockout_done"]
cautions = ["High pressure."]
[[field]]
name = "suction_line_f"
label = "Suction line"
unit = "°F"
possible = [-80, 300]
[[quantity]]
name = "superheat_f"
label = "Suction superheat"
unit = "Δ°F"
formula = "suction_line_f - suction_dew_f"
source = "Definition"
decimals = 1
[[field]]
name = "suction_dew_f"
label = "Saturated suction"
unit = "°F"
[[check]]
name = "superheat_in_range"
label = "Suction superheat"
judges = "superheat_f"
limit = "range"
when = "metering != 'fixed orifice'"
[[field]]
name = "pair_volts"
label = "Voltage"
unit = "V"
repeat = "pair"
[[check]]
name = "volts_in_range"
label = "Voltage"
judges = "pair_volts"
limit = "range"
low = "0.9 * rated_volts"
high = "1.1 * rated_volts"
basis = "published"
source = "NEMA MG 1, 12.44: rated voltage plus or minus 10 %"
[[field]]
name = "lockout"
label = "Lockout applied"
kind = "item"
severity = "stop"
cure = "Apply it."
repeat = []
[[check]]
name = "mean_volts_target"
label = "Mean voltage"
judges = "mean_volts"
limit = "target"
tolerance_percent = 2.5
basis = "common practice"
[[quantity]]
name = "mean_volts"
label = "Mean voltage"
unit = "V"
repeat = []
formula = "mean_of(pair_volts)"
source = "Definition"
"""
GOOD = {"configuration.toml": CONFIGURATION, "cooling.toml": COOLING}


@pytest.fixture
def good(tmp_path: Path) -> Form:
    return load_form(write_form(tmp_path, GOOD, REPEATS))


def test_a_good_form_loads_whole(good: Form) -> None:
    assert (good.id, good.version, good.title) == ("test_form", "1", "Test form")
    assert [section.name for section in good.sections] == ["configuration", "cooling"]
    assert good.section_by_name["cooling"].level is Level.UNIT
    assert good.section_by_name["cooling"].cautions == ("High pressure.",)
    assert good.section_of("superheat_f").name == "cooling"
    assert good.repeats["pair"].member_label(2) == "L2-L3"
    assert good.repeats["circuit"].member_label(2) == "Circuit 2"


def test_entries_stand_in_the_order_of_the_file_whatever_their_kind(good: Form) -> None:
    names = [entry.name for entry in good.section_by_name["cooling"].entries]
    assert names == [
        "suction_line_f", "superheat_f", "suction_dew_f", "superheat_in_range", "pair_volts",
        "volts_in_range", "lockout", "lockout_done", "mean_volts_target", "mean_volts",
    ]  # fmt: skip


def test_entries_take_the_repeat_of_their_section_or_their_own(good: Form) -> None:
    repeats = {name: entry.repeat for name, entry in good.by_name.items()}
    assert repeats["suction_line_f"] == ("circuit",)
    assert repeats["pair_volts"] == ("pair",)
    assert repeats["lockout"] == repeats["mean_volts"] == ()


def test_a_check_repeats_and_measures_as_what_it_judges(good: Form) -> None:
    check = good.by_name["superheat_in_range"]
    assert isinstance(check, Check)
    assert (check.repeat, check.unit, check.decimals) == (("circuit",), "Δ°F", 1)
    assert check.severity is Severity.FAIL
    assert check.parts == ("low", "high")


def test_an_item_makes_its_own_check(good: Form) -> None:
    item, check = good.by_name["lockout"], good.by_name["lockout_done"]
    assert isinstance(item, Field)
    assert isinstance(check, Check)
    assert item.kind is Kind.ITEM
    assert item.choices == ("done", "not done")
    assert (check.limit, check.expected) == (LimitKind.IS, "done")
    assert (check.severity, check.cure, check.judges) == (Severity.STOP, "Apply it.", "lockout")


def test_default_limits_are_trees_with_their_basis(good: Form) -> None:
    check = good.by_name["volts_in_range"]
    assert isinstance(check, Check)
    assert check.low == parse("0.9 * rated_volts")
    assert check.basis is Basis.PUBLISHED
    target = good.by_name["mean_volts_target"]
    assert isinstance(target, Check)
    assert target.parts == ("target", "tolerance_percent")
    assert target.tolerance_percent == parse("2.5")  # a bare number is a formula too


def test_a_quantity_holds_its_parsed_formula(good: Form) -> None:
    quantity = good.by_name["superheat_f"]
    assert isinstance(quantity, Quantity)
    assert quantity.formula == parse("suction_line_f - suction_dew_f")


def test_dependencies_hold_formula_relevance_count_and_page(good: Form) -> None:
    found = dependencies(good)
    assert set(found["superheat_f"]) == {"circuits", "suction_line_f", "suction_dew_f"}
    assert set(found["volts_in_range"]) == {"circuits", "phases", "pair_volts", "rated_volts"}
    assert "metering" in found["superheat_in_range"]


def test_the_hash_changes_with_any_byte_of_any_file(tmp_path: Path, good: Form) -> None:
    same = load_form(write_form(tmp_path / "same", GOOD, REPEATS))
    assert same.content_hash == good.content_hash
    other = load_form(write_form(tmp_path / "other", {**GOOD, "cooling.toml": COOLING + "\n"},
                                 REPEATS))  # fmt: skip
    assert other.content_hash != good.content_hash


# -- faults -------------------------------------------------------------------------


def faults_of(folder: Path) -> tuple[str, ...]:
    with pytest.raises(FormError) as caught:
        load_form(folder)
    return caught.value.faults


def test_all_faults_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    sections = {
        "one.toml": '[section]\nname = "one"\ntitle = "One"\nintroo = "x"\n',
        "two.toml": "[section\n",
        "three.toml": (
            '[section]\nname = "three"\ntitle = "Three"\n'
            '[[field]]\nname = "a_psig"\nlabel = "A"\nunit = "psgi"\n'
            '[[quantity]]\nname = "b"\nlabel = "B"\nformula = "a_psg + 1"\nsource = "x"\n'
            '[[check]]\nname = "c"\nlabel = "C"\njudges = "d"\nlimit = "range"\n'
        ),
    }
    folder = write_form(tmp_path, sections)
    (folder / "rooftop_unit.toml").write_text(
        TOP + 'sections = ["one.toml", "two.toml", "three.toml"]\n'
    )
    faults = "\n".join(faults_of(folder))
    for fragment in (
        "one.toml, section: unknown key 'introo'. Did you mean 'intro'?",
        "two.toml: cannot be read as TOML",
        "field a_psig: 'psgi' is not a unit. Did you mean 'psi",
        "quantity b: formula: 'a_psg' is not defined. Did you mean 'a_psig'?",
        "check c: judges 'd', which is no field or quantity",
    ):
        assert fragment in faults


FIELD = '[[field]]\nname = "volts"\nlabel = "Voltage"\nunit = "V"\n'
PHASES = '[[field]]\nname = "phases"\nlabel = "Phases"\nkind = "choice"\nchoices = ["1", "3"]\n'
COUNT = '[[field]]\nname = "circuits"\nlabel = "Circuits"\nkind = "integer"\n'
LEGS = FIELD + 'repeat = "leg"\n'
REFRIGERANT = (
    '[[field]]\nname = "refrigerant"\nlabel = "Refrigerant"\nkind = "choice"\n'
    'choices = ["R-410A", "R-22"]\n'
)
LEG = '[[repeat]]\nname = "leg"\nlabel = "L{n}"\ncount = "3"\nmaximum = 3\n'


def quantity(formula: str, unit: str = "V", more: str = "", name: str = "result") -> str:
    return (
        f'[[quantity]]\nname = "{name}"\nlabel = "Result"\nunit = "{unit}"\n'
        f'formula = """{formula}"""\nsource = "Test"\n{more}\n'
    )


def check(limit: str, more: str = "", judges: str = "volts") -> str:
    head = '[[check]]\nname = "held"\nlabel = "Held"\n'
    return f'{head}judges = "{judges}"\nlimit = "{limit}"\n{more}\n'


BAD = [
    # keys and kinds
    (FIELD + 'instrumnt = "meter"', "unknown key 'instrumnt'. Did you mean 'instrument'"),
    (FIELD + "required = 1", "field volts: required"),
    (FIELD + 'required = "no"', "field volts: required"),
    (FIELD + 'decimals = "1"', "field volts: decimals"),
    (FIELD + "decimals = 9", "field volts: decimals"),
    (FIELD + 'possible = ["0", "5"]', "field volts: possible"),
    (FIELD + "possible = [5]", "field volts: possible"),
    (FIELD + "repeat = 3", "field volts: repeat"),
    (FIELD + "when = true", "field volts: when"),
    (FIELD + 'kind = "nmber"', "field volts: kind"),
    ('[[field]]\nname = "Volts"\nlabel = "x"', "field Volts: name"),
    ('[[field]]\nname = "2volts"\nlabel = "x"', "field 2volts: name"),
    ('[[field]]\nname = "volts"', "field volts: 'label' is missing"),
    ('[[field]]\nlabel = "x"', "field number 1: 'name' is missing"),
    ('[[feild]]\nname = "x"\nlabel = "x"', "unknown key 'feild'. Did you mean 'field'?"),
    (FIELD + "possible = [9, 1]", "field volts: possible: 9 is not below 1"),
    (FIELD + "plausible = [9, 9]", "plausible: 9 is not below 9"),
    (FIELD + 'choices = ["a"]', "'choices' belong to kind 'choice', not 'number'"),
    ('[[field]]\nname = "x"\nlabel = "x"\nkind = "choice"', "a choice needs 'choices'"),
    (FIELD + 'severity = "stop"', "'severity' and 'cure' belong to items"),
    ('[[field]]\nname = "x"\nlabel = "x"\nkind = "text"\nunit = "V"', "of kind 'text' has no unit"),
    (FIELD + 'repeat = "legs"', "'legs' is not a repeat of this form. Did you mean 'leg'?"),
    # names
    (FIELD + FIELD, "'volts' is declared 2 times; one name, one meaning"),
    (FIELD.replace("volts", "max"), "'max' is the name of a function"),
    (quantity("vlots"), "quantity result: formula: 'vlots' is not defined."),
    (FIELD + quantity("volt"), "'volt' is not defined. Did you mean 'volts'?"),
    (FIELD + check("range") + quantity("held"), "'held' is not defined"),
    # formulas
    (FIELD + quantity("volts +"), "quantity result: formula: 'volts +' is not a formula"),
    (FIELD + quantity("volts.real"), "'volts.real' cannot stand in a formula"),
    (FIELD + quantity("sqrt(volts, 2)"), "sqrt takes 1 argument (x), 2 given"),
    (FIELD + quantity("sqr(volts)"), "'sqr' is not a function. Did you mean 'sqrt'?"),
    (FIELD + quantity("volts", "A"), "gives something in 'V', declared 'A'"),
    (FIELD + quantity("volts", "Vv"), "quantity result: 'Vv' is not a unit. Did you mean 'V'?"),
    (FIELD + quantity("volts > 5", ""), "gives a condition, declared 'plain numbers'"),
    (PHASES + quantity("phases", ""), "gives a text, declared 'plain numbers'"),
    (FIELD + quantity("volts", "", "text = true"), "declared text"),
    (FIELD + 'when = "volts"\n', "when 'volts': is not a condition"),
    (FIELD + quantity("volts", more='when = "volts"'), "is not a condition"),
    (quantity("other", name="result") + quantity("result", name="other"), "a ring that can never"),
    (quantity("result"), "'result' needs 'result'"),
    (FIELD + quantity("result + volts"), "'result' needs 'result'"),
    # choices misspelt
    (PHASES + quantity("1 if phases == 'three' else 3", ""), "'three' is no choice of phases"),
    (
        REFRIGERANT + quantity("1 if refrigerant != 'R410A' else 3", ""),
        "'R410A' is no choice of refrigerant: 'R-410A', 'R-22'. Did you mean 'R-410A'?",
    ),
    # repeats
    (LEGS + quantity("volts"), "'volts' repeats over leg, this does not. Use an aggregate"),
    (LEGS + quantity("mean_of(volts)", more='repeat = "leg"'), "'volts' has one value here"),
    (FIELD + quantity("mean_of(volts)"), "'volts' has one value here; an aggregate needs several"),
    (LEGS + quantity("mean_of(volts * 2)"), "'volts * 2': an aggregate and 'known' take"),
    (FIELD + quantity("1 if known(volts + 1) else 2", ""), "'known' take one plain name"),
    (LEGS + quantity("1 if known(volts) else 2", ""), "'volts' repeats over leg"),
    # checks
    (FIELD + check("range", judges="vols"), "judges 'vols', which is no field or quantity"),
    (FIELD + check("range", "low = 3"), "a default limit needs 'basis'"),
    (FIELD + check("range", 'low = 3\nbasis = "published"'), "basis 'published' needs 'source'"),
    (FIELD + check("range", 'low = 3\nbasis = "nameplate"'), "basis 'nameplate' needs 'source'"),
    (FIELD + check("range", 'low = 3\nbasis = "maker"'), "check held: basis"),
    (FIELD + check("at most", 'low = 3\nbasis = "common practice"'), "'low' has no meaning"),
    (FIELD + check("range", 'target = 3\nbasis = "common practice"'), "use low and high"),
    (
        FIELD + check("target", 'tolerance = 1\ntolerance_percent = 3\nbasis = "common practice"'),
        "'tolerance' has no meaning",
    ),
    (FIELD + check("range", 'high = "amps"\nbasis = "common practice"'), "'amps' is not defined"),
    (
        FIELD + '[[field]]\nname = "amps"\nlabel = "A"\nunit = "A"\n'
        + check("range", 'high = "2 * amps"\nbasis = "common practice"'),
        "check held: high '2 * amps': gives something in 'A', declared 'V'",
    ),
    (FIELD + check("range", 'expected = "done"'), "'expected' belongs to limit 'is'"),
    (PHASES + check("is", judges="phases"), "limit 'is' needs 'expected'"),
    (PHASES + check("is", 'expected = "4"', "phases"), "expected '4' is none of '1', '3'"),
    (FIELD + check("is", 'expected = "5"'), "holds the number 'volts' to a text"),
    (PHASES + check("range", judges="phases"), "holds the text 'phases' to numbers"),
    (FIELD + check("rnage"), "check held: limit"),
    (FIELD + check("range", 'severity = "grave"'), "check held: severity"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "fragment"), BAD)
def test_a_fault_says_where_and_what(tmp_path: Path, text: str, fragment: str) -> None:
    page = f'[section]\nname = "page"\ntitle = "Page"\n{text}\n'
    faults = faults_of(write_form(tmp_path, {"page.toml": page}, LEG))
    assert fragment in "\n".join(faults)
    assert all("page" in fault or fault.startswith(("'", "form")) for fault in faults)


SECTION = '[section]\nname = "page"\ntitle = "Page"\n'


@pytest.mark.parametrize(
    ("head", "fragment"),
    [
        ('guarded_by = ["volts_ok"]', "section page: guarded_by 'volts_ok' is no stop check"),
        ('guarded_by = ["lockout"]', "'lockout' is no stop check. Did you mean 'lockout_done'?"),
        ('guarded_by = ["grease_done"]', "guarded_by 'grease_done' is no stop check"),
        ('when = "volts + 1"', "section page: when 'volts + 1': is not a condition"),
        ('when = "vlts > 1"', "section page: when: 'vlts' is not defined"),
        ('level = "site"', "page.toml, section: level"),
        ('repeat = "circiut"', "'circiut' is not a repeat of this form"),
        ('titel = "x"', "unknown key 'titel'. Did you mean 'title'?"),
    ],
)
def test_faults_of_a_section(tmp_path: Path, head: str, fragment: str) -> None:
    page = (
        f"{SECTION}{head}\n{FIELD}"
        + check("at least", 'low = 3\nbasis = "common practice"').replace("held", "volts_ok")
        + '[[field]]\nname = "lockout"\nlabel = "L"\nkind = "item"\nseverity = "stop"\n'
        + '[[field]]\nname = "grease"\nlabel = "G"\nkind = "item"\n'
    )
    assert fragment in "\n".join(faults_of(write_form(tmp_path, {"page.toml": page}, LEG)))


def test_a_project_page_cannot_use_what_is_asked_of_each_unit(tmp_path: Path) -> None:
    project = '[section]\nname = "site"\ntitle = "Site"\nlevel = "project"\n' + quantity("volts")
    sections = {"page.toml": SECTION + FIELD, "site.toml": project}
    faults = faults_of(write_form(tmp_path, sections))
    assert "'volts' is asked for each unit; a project page cannot use it" in "\n".join(faults)


@pytest.mark.parametrize(
    ("repeats", "fragment"),
    [
        (LEG.replace('"3"', '"circuts"'), "repeat leg: count: 'circuts' is not defined"),
        (LEG.replace('"3"', '"3 +"'), "rooftop_unit.toml, repeat leg: count: '3 +' is not"),
        (LEG.replace('"3"', '"phases"'), "is not a number"),
        (LEG.replace("{n}", "{x}"), "label 'L{x}' may hold only {n} and {member}"),
        (LEG.replace("maximum = 3", "maximum = 0"), "repeat leg: maximum"),
        (LEG.replace("maximum = 3", "maximum = 100000"), "repeat leg: maximum"),
        (LEG + "limit = 3\n", "repeat leg: unknown key 'limit'"),
    ],
)  # fmt: skip
def test_faults_of_a_repeat(tmp_path: Path, repeats: str, fragment: str) -> None:
    sections = {"page.toml": SECTION + COUNT + PHASES}
    assert fragment in "\n".join(faults_of(write_form(tmp_path, sections, repeats)))


def test_a_missing_file_is_named_with_its_near_miss_and_hides_no_other(tmp_path: Path) -> None:
    folder = write_form(tmp_path, {"page.toml": SECTION + FIELD + quantity("volts * amps", "W")})
    wrong = FIELD.replace("unit", "unti").replace("volts", "ohms")
    (folder / "other.toml").write_text(SECTION.replace("page", "other") + wrong)
    top = f'{TOP}sections = ["page.toml", "paeg.toml", "other.toml"]\n'
    (folder / "rooftop_unit.toml").write_text(top)
    faults = faults_of(folder)
    assert len(faults) == 2, faults
    assert "paeg.toml: no such file" in faults[0]
    assert "Did you mean 'page.toml'?" in faults[0]
    assert "field ohms: unknown key 'unti'. Did you mean 'unit'?" in faults[1]


def test_a_page_that_cannot_be_read_is_not_blamed_on_the_pages_that_use_it(
    tmp_path: Path,
) -> None:
    sections = {
        "one.toml": SECTION + FIELD + "instrumnt = 3\n",
        "two.toml": SECTION.replace("page", "two") + quantity("volts * 2") + quantity("vlots",
                                                                                      name="b"),
    }  # fmt: skip
    faults = faults_of(write_form(tmp_path, sections))
    assert len(faults) == 2, faults
    assert "unknown key 'instrumnt'" in faults[0]
    assert "'vlots' is not defined" in faults[1]


def test_one_wrong_formula_is_one_fault_not_one_at_each_use(tmp_path: Path) -> None:
    page = SECTION + FIELD + quantity("volts +") + quantity("result * 2", name="twice")
    faults = faults_of(write_form(tmp_path, {"page.toml": page}))
    assert len(faults) == 1, faults


@pytest.mark.parametrize(
    ("write", "fragment"),
    [
        (None, "rooftop_unit.toml: no such file in"),
        (b"\xff\xfe", "rooftop_unit.toml: cannot be read as TOML"),
        (b"", "'id' is missing; add it"),
        (b'id = "x"\nversion = "1"\ntitle = "T"\nsections = [', "cannot be read as TOML"),
        (b'id = "x"\nversion = 1\ntitle = "T"\nsections = []', "rooftop_unit.toml: version"),
        (b"#" * 2_000_001, "larger than 2,000,000 bytes; is it a form file?"),
        (b"a = " + b"[" * 5000, "cannot be read as TOML"),
    ],
)
def test_a_file_that_is_no_form_file(tmp_path: Path, write: bytes | None, fragment: str) -> None:
    if write is not None:
        (tmp_path / "rooftop_unit.toml").write_bytes(write)
    assert fragment in "\n".join(faults_of(tmp_path))


@pytest.mark.parametrize("name", ["../page.toml", "/etc/hostname", "sub/page.toml"])
def test_a_section_file_lies_in_the_form_s_own_folder(tmp_path: Path, name: str) -> None:
    folder = write_form(tmp_path / "form", {})
    (tmp_path / "page.toml").write_text(SECTION + FIELD)
    (folder / "sub").mkdir()
    (folder / "sub" / "page.toml").write_text(SECTION + FIELD)
    (folder / "rooftop_unit.toml").write_text(f'{TOP}sections = ["{name}"]\n')
    assert "a plain file name" in "\n".join(faults_of(folder))


def test_the_numbers_set_side_by_side_keep_their_order(tmp_path: Path) -> None:
    top = TOP + 'across = ["mean_volts", "superheat_f", "circuits"]'
    form = load_form(write_form(tmp_path, GOOD, REPEATS, top))
    assert form.across == ("mean_volts", "superheat_f", "circuits")


@pytest.mark.parametrize(
    ("names", "fragment"),
    [
        ('"mean_vlts"', "rooftop_unit.toml, across: 'mean_vlts' is not declared in this form."),
        ('"mean_vlts"', "Did you mean 'mean_volts'?"),
        ('"mean_volts", "mean_volts"', "across: 'mean_volts' is named 2 times"),
        ('"metering"', "across: 'metering' is not a number of a unit"),
        ('"superheat_in_range"', "across: 'superheat_in_range' is not a number of a unit"),
        ('"lockout"', "across: 'lockout' is not a number of a unit"),
    ],
)
def test_faults_of_what_is_set_side_by_side(tmp_path: Path, names: str, fragment: str) -> None:
    top = f"{TOP}across = [{names}]"
    assert fragment in "\n".join(faults_of(write_form(tmp_path, GOOD, REPEATS, top)))


def test_a_number_of_the_project_is_no_number_of_a_unit(tmp_path: Path) -> None:
    page = '[section]\nname = "site"\ntitle = "Site"\nlevel = "project"\n' + FIELD
    folder = write_form(tmp_path, {"site.toml": page}, "", TOP + 'across = ["volts"]')
    assert "'volts' is not a number of a unit" in "\n".join(faults_of(folder))


def test_a_check_may_stand_on_another_page_than_what_it_judges() -> None:
    form = form_of(
        check("at most").replace("held", "volts_held"),
        other='[section]\nname = "other"\ntitle = "Other"\n' + FIELD,
    )
    held = form.by_name["volts_held"]
    assert isinstance(held, Check)
    assert held.unit == "V"
