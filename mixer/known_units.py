"""The units that are known here, in the words in which pint reads definitions.

Few, because pint's own list of all units takes a quarter of a second to read, and a
weight is waited for meanwhile. Each multiple is written out: a prefix that may stand
before anything would make units that mean something else elsewhere ("cd", "dqt"). What
stands here must never differ from pint's own list; a test holds each to it. Ampere,
newton and the like are there so that a slip can be named: "22 C" is an electric charge.
"""

DEFINITIONS = """
    percent = 0.01 = %
    meter = [length] = m = metre
    kilometer = 1e3 * meter = km = kilometre
    decimeter = 0.1 * meter = dm = decimetre
    centimeter = 0.01 * meter = cm = centimetre
    millimeter = 1e-3 * meter = mm = millimetre
    micrometer = 1e-6 * meter = µm = um = micrometre
    inch = 0.0254 * meter = in = inches
    foot = 0.3048 * meter = ft = feet
    yard = 0.9144 * meter = yd
    gram = [mass] = g
    kilogram = 1e3 * gram = kg
    milligram = 1e-3 * gram = mg
    microgram = 1e-6 * gram = µg = ug
    metric_ton = 1e6 * gram = t = tonne
    grain = 64.79891 * milligram
    pound = 7e3 * grain = lb
    ounce = pound / 16 = oz
    second = [time] = s = sec
    millisecond = 1e-3 * second = ms
    minute = 60 * second = min
    hour = 60 * minute = h = hr
    day = 24 * hour
    week = 7 * day
    kelvin = [temperature]; offset: 0 = K
    degree_Celsius = kelvin; offset: 273.15 = celsius = degC
    degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9 = fahrenheit = degF
    liter = decimeter ** 3 = l = L = litre
    deciliter = 0.1 * liter = dL = dl = decilitre
    centiliter = 0.01 * liter = cL = cl = centilitre
    milliliter = 1e-3 * liter = mL = ml = millilitre
    microliter = 1e-6 * liter = µL = uL = microlitre
    cubic_centimeter = centimeter ** 3 = cc
    gallon = 231 * inch ** 3 = gal
    quart = gallon / 4 = qt
    pint = quart / 2 = pt
    fluid_ounce = pint / 16 = floz
    ampere = [current] = A
    coulomb = ampere * second = C
    newton = kilogram * meter / second ** 2 = N
"""
