"""The kinds of parts that a profile may name."""

from __future__ import annotations

from stagecall.plant.accessories import (
    AccessoryOutput,
    AlarmSwitch,
    DehumidifyInput,
    DoorSwitch,
    OutdoorThermostat,
)
from stagecall.plant.actuators import Damper, EndSwitch, ZoneValve
from stagecall.plant.aquastat import AquastatRelay
from stagecall.plant.burner import Burner, HeatExchanger
from stagecall.plant.coils import CoilPart, Contactor, GasValve
from stagecall.plant.compressor_board import CompressorBoard
from stagecall.plant.dual_fuel import FuelKit
from stagecall.plant.fan_control import FanBoard
from stagecall.plant.flame_lead import FlameLead
from stagecall.plant.furnace_board import FurnaceBoard
from stagecall.plant.heat_pump_board import HeatPumpBoard
from stagecall.plant.isolating import IsolatingRelay
from stagecall.plant.leak_board import LeakBoard
from stagecall.plant.motors import Blower, Ignitor, Inducer, InductionMotor, RunCapacitor
from stagecall.plant.oil import FanSwitch, FlameDetector, OilBurner, OilIgnition, OilPrimary
from stagecall.plant.outdoor import CompressorHeater, FanCyclingControl, PhaseMonitor
from stagecall.plant.part import Part
from stagecall.plant.refrigerant import RefrigerantCircuit
from stagecall.plant.relays import ControlRelay, LineRelay
from stagecall.plant.reversing import CoilThermostat, FrostSensor, HeatPumpCircuit, ReversingValve, SensorClip
from stagecall.plant.speed_calls import ConstantAirflowBlower
from stagecall.plant.strips import HeatSequencer, Strip, StripBoard, StripCutOut
from stagecall.plant.supply import Fuse, Transformer
from stagecall.plant.switches import ActedSwitch, DraftSwitch, Limit, RefrigerantSwitch, SafetySwitch
from stagecall.plant.two_stage_cooling import StageCoil, TwoStageCircuit, TwoStageCompressorBoard
from stagecall.plant.two_stage_furnace import HighFireCoil, TwoSpeedInducer, TwoStageBurner, TwoStageFurnaceBoard
from stagecall.plant.water import Boiler, Circulator, WaterBurner, WaterLimit
from stagecall.plant.zone_panel import ZonePanel

KINDS: dict[str, type[Part]] = {
    "transformer": Transformer,
    "fuse": Fuse,
    "contactor": Contactor,
    "relay": Contactor,
    "line_relay": LineRelay,
    "control_relay": ControlRelay,
    "gas_valve": GasValve,
    "limit": Limit,
    "rollout_switch": SafetySwitch,
    "draft_switch": DraftSwitch,
    "refrigerant_switch": RefrigerantSwitch,
    "inducer": Inducer,
    "ignitor": Ignitor,
    "burner": Burner,
    "heat_exchanger": HeatExchanger,
    "blower": Blower,
    "compressor": InductionMotor,
    "fan_motor": InductionMotor,
    "run_capacitor": RunCapacitor,
    "refrigerant_circuit": RefrigerantCircuit,
    "fan_board": FanBoard,
    "compressor_board": CompressorBoard,
    "furnace_board": FurnaceBoard,
    "fuel_kit": FuelKit,
    "flame_lead": FlameLead,
    "two_stage_furnace_board": TwoStageFurnaceBoard,
    "two_stage_burner": TwoStageBurner,
    "two_speed_inducer": TwoSpeedInducer,
    "high_fire_coil": HighFireCoil,
    "constant_airflow_blower": ConstantAirflowBlower,
    "two_stage_compressor_board": TwoStageCompressorBoard,
    "two_stage_circuit": TwoStageCircuit,
    "stage_coil": StageCoil,
    "compressor_heater": CompressorHeater,
    "fan_cycling_control": FanCyclingControl,
    "phase_monitor": PhaseMonitor,
    "boiler": Boiler,
    "circulator": Circulator,
    "water_burner": WaterBurner,
    "water_limit": WaterLimit,
    "low_water_cutoff": SafetySwitch,
    "aquastat_relay": AquastatRelay,
    "zone_valve": ZoneValve,
    "damper": Damper,
    "end_switch": EndSwitch,
    "isolating_relay": IsolatingRelay,
    "oil_burner": OilBurner,
    "oil_ignition": OilIgnition,
    "oil_primary": OilPrimary,
    "flame_detector": FlameDetector,
    "fan_switch": FanSwitch,
    "leak_board": LeakBoard,
    "leak_sensor": SafetySwitch,
    "smoke_detector": ActedSwitch,
    "float_switch": ActedSwitch,
    "alarm_switch": AlarmSwitch,
    "door_switch": DoorSwitch,
    "outdoor_thermostat": OutdoorThermostat,
    "accessory_output": AccessoryOutput,
    "dehumidify_input": DehumidifyInput,
    "zone_panel": ZonePanel,
    "solenoid": CoilPart,
    "reversing_valve": ReversingValve,
    "heat_pump_circuit": HeatPumpCircuit,
    "heat_pump_board": HeatPumpBoard,
    "coil_thermostat": CoilThermostat,
    "sensor_clip": SensorClip,
    "frost_sensor": FrostSensor,
    "strip": Strip,
    "strip_cut_out": StripCutOut,
    "heat_sequencer": HeatSequencer,
    "strip_board": StripBoard,
}
