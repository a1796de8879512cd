"""Invented flights from a physical model of an aircraft's electrical system, and what is true of them."""

from analyzer.simulator.alternator import Alternator, OvervoltageProtection, Regulator
from analyzer.simulator.battery import Battery
from analyzer.simulator.flight_plan import FlightPlan, Starting
from analyzer.simulator.instruments import Ammeter, Recorder, Voltmeter
from analyzer.simulator.loads import LoadEvent, Loads
from analyzer.simulator.simulate import Scenario, SimulatedFlight, simulate
from analyzer.simulator.truth import KnownFault, Truth, Value

__all__ = [
    "Alternator",
    "Ammeter",
    "Battery",
    "FlightPlan",
    "KnownFault",
    "LoadEvent",
    "Loads",
    "OvervoltageProtection",
    "Recorder",
    "Regulator",
    "Scenario",
    "SimulatedFlight",
    "Starting",
    "Truth",
    "Value",
    "Voltmeter",
    "simulate",
]
