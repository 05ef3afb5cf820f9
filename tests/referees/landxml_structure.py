"""What LandXML 1.2 asks of the elements that an export of ours holds, and the faults of a file by it.

Source, read: LandXML-1.2.xsd, the published schema, posted 7/29/2008 (targetNamespace
http://www.landxml.org/schema/LandXML-1.2): the declarations of each element named here, in words of our own. An element
or attribute that is not named here is a fault.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field
from xml.etree import ElementTree as ET

SPACE = "{http://www.landxml.org/schema/LandXML-1.2}"
DOUBLE = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?|-?INF|NaN")
STATE = ("abandoned", "destroyed", "existing", "proposed")
ANGLE = ("radians", "grads", "decimal degrees", "decimal dd.mm.ss")
HEIGHT = ("meter", "kilometer", "feet", "miles")


def number(text):
    return DOUBLE.fullmatch(text.strip()) is not None


def day(text):
    try:
        return dt.date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def time_of_day(text):
    return re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d+)?(Z|[+-]\d\d:\d\d)?", text) is not None


def anything(_):
    return True


@dataclass(frozen=True)
class Asked:
    """Children as a pattern of their names, needed and free attributes with what each may hold.

    How many numbers its text may hold.
    """

    inside: str = ""
    needed: dict = field(default_factory=dict)
    free: dict = field(default_factory=dict)
    numbers: tuple | None = None


def units_of(area, linear, volume, temperature, pressure, small):
    return Asked(
        needed={
            "areaUnit": area,
            "linearUnit": linear,
            "volumeUnit": volume,
            "temperatureUnit": temperature,
            "pressureUnit": pressure,
        },
        free={"diameterUnit": small, "angularUnit": ANGLE, "directionUnit": ANGLE, "elevationUnit": HEIGHT},
    )


FEET = ("foot", "USSurveyFoot", "inch")
METRES = ("millimeter", "centimeter", "meter", "kilometer")
POINT = Asked(numbers=(0, 3), free={"name": anything, "desc": anything, "code": anything, "state": STATE})
NAMED = {"desc": anything, "oID": anything, "state": STATE}
ASKED = {
    "LandXML": Asked(
        "(Units |CoordinateSystem |Project |Application |Alignments |PipeNetworks )+",
        {"date": day, "time": time_of_day, "version": anything},
        {"language": anything, "readOnly": ("true", "false", "0", "1")},
    ),
    "Units": Asked("(Metric|Imperial) "),
    "Metric": units_of(
        ("hectare", "squareMeter", "squareMillimeter", "squareCentimeter"),
        METRES,
        ("cubicMeter", "liter", "hectareMeter"),
        ("celsius", "kelvin"),
        ("HPA", "milliBars", "mmHG", "millimeterHG"),
        METRES,
    ),
    "Imperial": units_of(
        ("acre", "squareFoot", "squareInch", "squareMiles"),
        (*FEET, "mile"),
        ("US_gallon", "IMP_gallon", "cubicInch", "cubicFeet", "cubicYard", "acreFeet"),
        ("fahrenheit", "kelvin"),
        ("inchHG", "inHG"),
        FEET,
    ),
    "CoordinateSystem": Asked(
        "(Start )?",
        free=dict.fromkeys(("desc", "name", "epsgCode", "ogcWktCode", "horizontalDatum", "verticalDatum"), anything),
    ),
    "Project": Asked(needed={"name": anything}, free={"desc": anything, "state": STATE}),
    "Application": Asked(needed={"name": anything}, free={"desc": anything, "version": anything}),
    "Alignments": Asked("(Alignment )+", free={"desc": anything, "name": anything, "state": STATE}),
    "Alignment": Asked(
        "(Start |CoordGeom |StaEquation |Profile |CrossSects )+",
        {"name": anything, "length": number, "staStart": number},
        NAMED,
    ),
    "CoordGeom": Asked("(Line |IrregularLine |Curve |Spiral )+", free={"name": anything, **NAMED}),
    "Line": Asked("Start End ", free={"name": anything, "length": number, "staStart": number, "dir": number, **NAMED}),
    "Start": POINT,
    "End": POINT,
    "Center": POINT,
    "Profile": Asked(
        "(ProfSurf |ProfAlign )+", free={"name": anything, "desc": anything, "staStart": number, "state": STATE}
    ),
    "ProfSurf": Asked("(PntList2D )+", {"name": anything}, {"desc": anything, "state": STATE}),
    "PntList2D": Asked(numbers=(4, 10**9)),  # its annotation: at least 2 points
    "ProfAlign": Asked("(PVI |ParaCurve |CircCurve )+", {"name": anything}, {"desc": anything, "state": STATE}),
    "PVI": Asked(numbers=(2, 2), free={"desc": anything}),
    "PipeNetworks": Asked("(PipeNetwork )+", free={"desc": anything, "name": anything, "state": STATE}),
    "PipeNetwork": Asked(
        "Structs Pipes ",
        {"name": anything, "pipeNetType": ("sanitary", "storm", "water", "other")},
        {"alignmentRef": anything, **NAMED},
    ),
    "Structs": Asked("(Units )?(Struct ){2,}"),
    "Struct": Asked(
        "Center (CircStruct|RectStruct|InletStruct|OutletStruct|Connection) (Invert )+",
        {"name": anything},
        {"elevRim": number, "elevSump": number, **NAMED},
    ),
    "InletStruct": Asked(),
    "OutletStruct": Asked(),
    "Connection": Asked(),
    "Invert": Asked(
        needed={"elev": number, "flowDir": ("in", "out", "both"), "refPipe": anything}, free={"desc": anything}
    ),
    "Pipes": Asked("(Units )?(Pipe )+"),
    "Pipe": Asked(
        "(CircPipe|EggPipe|ElliPipe|RectPipe|Channel) (PipeFlow )?(Center )?",
        {"name": anything, "refStart": anything, "refEnd": anything},
        {"length": number, "slope": number, **NAMED},
    ),
    "CircPipe": Asked(
        needed={"diameter": number},
        free={"desc": anything, "material": anything, "thickness": number, "mannings": number, "hazenWilliams": number},
    ),
}
# names that stand once: over the whole file, or within the element that holds them
ONCE = (("LandXML", "Struct"), ("LandXML", "Pipe"), ("Alignments", "Alignment"), ("PipeNetworks", "PipeNetwork"))
POINTS_TO = (("Pipe", "refStart", "Struct"), ("Pipe", "refEnd", "Struct"), ("Invert", "refPipe", "Pipe"))


def faults_of(root):
    """Every fault of a file by the structure above, in words; none in a valid one."""
    found = []
    for element in root.iter():
        name = element.tag.removeprefix(SPACE)
        if name not in ASKED:
            found.append(f"{name} is no element known here")
            continue
        asked = ASKED[name]
        inside = "".join(f"{child.tag.removeprefix(SPACE)} " for child in element)
        if not re.fullmatch(asked.inside, inside):
            found.append(f"{name} holds {inside or 'nothing'}")
        found += [f"{name} lacks {key}" for key in asked.needed if key not in element.attrib]
        for key, value in element.attrib.items():
            may = {**asked.needed, **asked.free}.get(key)
            if may is None:
                found.append(f"{name} has no attribute {key}")
            elif not (value in may if isinstance(may, tuple) else may(value)):
                found.append(f"{name} {key} is {value!r}")
        parts = (element.text or "").split()
        low, high = asked.numbers or (0, 0)
        if not (low <= len(parts) <= high and all(map(number, parts))):
            found.append(f"{name} holds the text {element.text!r}")
    for holder, kept in ONCE:
        for one in root.iter(f"{SPACE}{holder}"):
            names = [each.get("name") for each in one.iter(f"{SPACE}{kept}")]
            found += [f"two {kept} are named {name}" for name in sorted({n for n in names if names.count(n) > 1})]
    for name, key, kind in POINTS_TO:
        known = {one.get("name") for one in root.iter(f"{SPACE}{kind}")}
        found += [f"{name} {key} {one.get(key)}" for one in root.iter(f"{SPACE}{name}") if one.get(key) not in known]
    return found


def faults_of_bytes(text):
    return faults_of(ET.fromstring(text))
