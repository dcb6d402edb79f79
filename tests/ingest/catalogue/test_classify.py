"""What a name is taken for: whole names only, so that no law is cited against a neighbour of a part."""

import time

import pytest

from ingest.catalogue import part_and_measure, table_of
from ingest.catalogue.classify import LONGEST
from ingest.names.points import spelled

NEIGHBOURS = """
axlebox thrust pad: thickness
thrust pad of axlebox: thickness
tire retaining ring: thickness
retaining ring of the tire: thickness
axle: thickness
firebox crown: thickness
crown sheet: thickness
firebox crown sheet: thickness
crown stay: diameter
tire bolt: diameter
tire: inside diameter
tire: bore
tire rivet: diameter
tire gauge: thickness
wheel center: diameter
wheel center: thickness
wheel center rim: thickness
wheel spoke: thickness
wheel boss: diameter
wheel hub: diameter
wheel lathe: diameter
wheel arch: thickness
hand wheel: diameter
fly wheel: diameter
balance weight: thickness
journal box: diameter
journal box lid: thickness
journal box wedge: thickness
journal box lid: diameter
journal oil pad: thickness
axle collar bolt: diameter
axle key: thickness
axle pulley: diameter
axle box keep: thickness
axlebox cover: thickness
axle box bolt: diameter
axle box spring: thickness
driving box cellar: thickness
driving box saddle: thickness
driving box cellar bolt: clearance
hub liner rivet: diameter
hub bolt: diameter
brake shoe: thickness
brake shoe: wear
brake wheel: diameter
brake hanger pin: clearance
brake hanger pin: diameter
brake rod pin: clearance
brake wedge: thickness
wedge bolt: thickness
wedge bolt: diameter
crank case: diameter
crank axle: diameter
crank web: thickness
crank pin collar: diameter
crank pin nut: diameter
crank pin arm: diameter
eccentric crank: diameter
eccentric crank pin: diameter
eccentric strap: clearance
eccentric sheave: diameter
return crank pin: diameter
side rod grease cup: clearance
side rod strap: clearance
side rod bolt: clearance
side rod brass: thickness
main rod strap: clearance
main rod wedge: clearance
main rod wedge: thickness
main rod brass: thickness
main rod bolt: diameter
gear connecting rod pin: clearance
coupling hook: clearance
coupler knuckle pin: diameter
coupler knuckle: clearance
screw coupling: clearance
crosshead shoe: thickness
crosshead key: thickness
crosshead pin nut: diameter
crosshead bushing: clearance
valve guide: wear
injector guide: wear
guide yoke: wear
guide bar bolt: wear
piston: diameter
piston rod nut: diameter
piston rod packing: thickness
piston ring: thickness
piston tail rod: diameter
pump piston rod: diameter
valve stem: diameter
valve rod: diameter
cylinder cock: taper
cylinder cover: thickness
air pump cylinder: out of round
brake cylinder: out of round
lubricator cylinder: taper
link block: clearance
link lifter pin: clearance
link saddle pin: clearance
spring hanger: thickness
spring buckle: thickness
safety valve spring pin: clearance
reverse lever pin: clearance
reversing screw: clearance
center plate bolt: engagement
center pin nut: clearance
side bearing bolt: clearance
drawbar: diameter
drawbar pin washer: diameter
drawbar pin hole: diameter
buffer plate: thickness
throttle wheel: diameter
boiler: thickness
tender tank plate: thickness
smokebox ring: thickness
roller bearing: clearance
bearing spring: thickness
flange of steam pipe: thickness
steam pipe flange: thickness
rail flange: thickness
wheel: thickness
tire tread: width
tread wear gauge: thickness
"""
"""Names that look like a part of which the law speaks, and are none: a column of component: quantity."""


@pytest.mark.parametrize("name", NEIGHBOURS.strip().splitlines())
def test_a_neighbour_of_a_part_is_not_taken_for_it(name):
    component, quantity = name.split(": ")
    assert part_and_measure(component, quantity) == ("", "")
    assert part_and_measure(f"Driving {component}, left", quantity.upper()) == ("", "")


@pytest.mark.parametrize(
    ("component", "quantity", "expected"),
    [
        ("Tyres", "Thickness", ("tire", "thickness")),
        ("tire of driver 2 left", "thickness (in)", ("tire", "thickness")),
        ("tire, driver 2 left", "least thickness", ("tire", "thickness")),
        ("left hand tire", "thickness", ("tire", "thickness")),
        ("L2 tire", "thickness", ("tire", "thickness")),
        ("tire flange", "thickness", ("tire", "flange thickness")),
        ("wheel", "thickness of flange", ("wheel", "flange thickness")),
        ("wheels", "tyre thickness", ("tire", "thickness")),
        ("flange of the tender wheel", "height", ("wheel", "flange height")),
        ("bogie wheel rim", "thickness", ("wheel", "rim thickness")),
        ("axle", "wheel seat diameter", ("axle", "wheel seat diameter")),
        ("axle", "diameter at centre", ("axle", "center diameter")),
        ("collar of tender axle", "thickness", ("axle", "collar thickness")),
        ("tender axle collars", "thickness", ("axle", "collar thickness")),
        ("axle journal", "dia", ("journal", "diameter")),
        ("axlebox crown brass", "white metal", ("crown brass", "lining")),
        ("axlebox", "bearing clearance", ("crown brass", "clearance")),
        ("axle box", "horn clearance", ("driving box", "pedestal clearance")),
        ("leading coupling rod bush", "clearance", ("side rod", "clearance")),
        ("connecting rod small end", "clearance", ("main rod", "front end clearance")),
        ("big end of the connecting rod", "clearance", ("main rod", "back end clearance")),
        ("main crankpin", "diameter", ("crank pin", "diameter")),
        ("gudgeon pin", "diameter", ("wrist pin", "diameter")),
        ("slidebar", "wear", ("guide", "wear")),
        ("left cylinder liner", "taper", ("cylinder", "out of round")),
        ("reversing shaft", "bearing clearance", ("reversing shaft", "bearing clearance")),
        ("wheelset", "back-to-back", ("wheelset", "back to back")),
        ("wheelsets", "distance between tyres", ("wheelset", "back to back")),
        ("spring hanger pins", "clearance", ("spring rigging pin", "clearance")),
    ],
)
def test_a_part_is_known_however_it_is_written(component, quantity, expected):
    assert part_and_measure(component, quantity) == expected


def test_no_name_means_two_things_and_every_name_can_be_met():
    meant = {}
    for row in table_of("vocabulary").to_dict("records"):
        for component in row["component"].split("|"):
            assert spelled(component) == component
            for quantity in row["quantity"].split("|"):
                assert spelled(quantity) == quantity
                named = (row["part"], row["measure"])
                assert meant.setdefault((component, quantity), named) == named
                assert part_and_measure(component, quantity) == named


FASTENED = ("bolt", "nut", "lid", "cover", "washer", "cotter", "gasket", "drain", "oiler", "wrench")
"""What is fastened to a part, or used on it, and is never the part."""


@pytest.mark.parametrize("noun", FASTENED)
def test_a_thing_on_a_part_is_never_the_part(noun):
    for row in table_of("vocabulary").to_dict("records"):
        for component in row["component"].split("|"):
            for quantity in row["quantity"].split("|"):
                for name in (f"{component} {noun}", f"{noun} of the {component}", f"{noun} {component}"):
                    assert part_and_measure(name, quantity) == ("", "")


PHRASES = {cell for column in ("component", "quantity") for cell in table_of("vocabulary")[column]}
WORST = sorted(
    {phrase for cell in PHRASES for phrase in cell.split("|")} | set(table_of("qualifiers")["word"])
)


def test_fifty_kilobytes_of_any_name_are_put_aside_at_once():
    begun = time.perf_counter()
    for words in [*WORST, "of", "1", "2l", " ", "the of", "-", "s"]:
        long = (words + " ") * (50_000 // (len(words) + 1))
        assert part_and_measure(long, "diameter") == part_and_measure("tire", long) == ("", "")
    assert time.perf_counter() - begun < 0.5


@pytest.mark.parametrize("words", ["of ", "1 ", "driver ", "a of ", "d2l "])
def test_the_longest_name_that_is_read_is_read_soon(words):
    text = (words * LONGEST)[:LONGEST]
    begun = time.perf_counter()
    assert part_and_measure(text, text) == ("", "")
    assert time.perf_counter() - begun < 0.05
