// The drive block of a scenario file, and the driver that it describes.

package settings

import (
	"time"

	"liftbench/sim/drive"
)

// Drive is how the field is driven. If a key is absent the driver decides: see
// sim/drive.
type Drive struct {
	Start           time.Time            `key:"start" doc:"UTC of the first position"`
	SpeedKmh        float64              `key:"speed_kmh" unit:"km/h" above:"0" max:"36" doc:"speed at work"`
	SpeedSDPercent  float64              `key:"speed_sd_percent" unit:"%" min:"0" max:"20" doc:"how much the driver's speed outside of turns varies from pass to pass: standard deviation"`
	DriverSDPercent float64              `key:"driver_sd_percent" unit:"%" min:"0" max:"20" doc:"how much it varies from one driver, of one seed, to another: standard deviation"`
	BorderKmh       *float64             `key:"border_kmh" unit:"km/h" above:"0" max:"36" doc:"speed while the bar crosses a border; as at work when absent"`
	HeadlandKmh     *float64             `key:"headland_kmh" unit:"km/h" above:"0" max:"36" doc:"speed straight ahead outside the zone; as at work when absent"`
	TurnKmh         *float64             `key:"turn_kmh" unit:"km/h" above:"0" max:"36" doc:"speed in turns and in reverse; as at work, at most 6, when absent"`
	AccelMps2       *float64             `key:"accel_mps2" unit:"m/s²" above:"0" max:"5" doc:"speeding up; 0.4 when absent"`
	DecelMps2       *float64             `key:"decel_mps2" unit:"m/s²" above:"0" max:"5" doc:"slowing down; 0.4 when absent"`
	Turn            drive.Turn           `key:"turn" words:"bulb|fishtail" doc:"how a pass too near for a U turn is reached"`
	MinRadiusM      *float64             `key:"min_radius_m" unit:"m" above:"0" max:"50" doc:"tightest path of the rear axle's middle; 6 when absent"`
	SteerTimeS      *float64             `key:"steer_time_s" unit:"s" above:"0" max:"20" doc:"from straight ahead to the tightest path; 2 when absent"`
	PauseS          float64              `key:"pause_s" unit:"s" min:"0" max:"600" doc:"standstill at each change of direction"`
	StopsPerH       float64              `key:"stops_per_h" min:"0" max:"120" doc:"how often the driver stops per hour of driving, anywhere: in the row, at the border, in a turn"`
	StopS           float64              `key:"stop_s" unit:"s" min:"0" max:"3600" doc:"how long each of those stops lasts"`
	BrakeMps2       *float64             `key:"brake_mps2" unit:"m/s²" above:"0" max:"5" doc:"braking for such a stop; as decel_mps2 when absent"`
	StartMps2       *float64             `key:"start_mps2" unit:"m/s²" above:"0" max:"5" doc:"starting after it; as accel_mps2 when absent"`
	StraightBeforeM *float64             `key:"straight_before_m" unit:"m" above:"0" max:"100" doc:"straight run before the first section enters the zone; when absent as long as check says that drops need, at least 3"`
	Headland        drive.HeadlandPasses `key:"headland" words:"none|first|last" doc:"when the headland is worked"`
	Rounds          int                  `key:"rounds" min:"0" max:"100" doc:"rounds in a headland without rows of its own; 0 = as many as fit"`
	Zones           []string             `key:"zones" doc:"names of the body zones to work, in order; all of them when absent"`
	OverlapCm       float64              `key:"overlap_cm" unit:"cm" min:"-100" max:"1000" doc:"overlap of neighbouring passes, negative for a gap"`
	SkipPasses      int                  `key:"skip_passes" min:"0" max:"100" doc:"passes left out on the way across the field and worked on the way back"`
	SteerSigmaCm    float64              `key:"steering_sigma_cm" unit:"cm" min:"0" max:"100" doc:"standard deviation of the tractor's distance from its line"`
	Seed            int                  `key:"seed" min:"0" max:"9007199254740991" doc:"of the random numbers of steering, speed, receiver and spread"`
}

// Params returns the driver in SI.
func (d *Drive) Params() drive.Params {
	or0 := func(v *float64) float64 {
		if v == nil {
			return 0 // leaves the choice to the driver
		}
		return *v
	}
	p := drive.Params{
		StartNs:         d.Start.UnixNano(),
		Turn:            d.Turn,
		Headland:        d.Headland,
		Zones:           d.Zones,
		Rounds:          d.Rounds,
		OverlapM:        d.OverlapCm / 100,
		SkipPasses:      d.SkipPasses,
		MinRadiusM:      or0(d.MinRadiusM),
		SteerTimeS:      or0(d.SteerTimeS),
		PauseS:          d.PauseS,
		StopsPerH:       d.StopsPerH,
		StopS:           d.StopS,
		BrakeMps2:       or0(d.BrakeMps2),
		StartMps2:       or0(d.StartMps2),
		WorkMps:         d.SpeedKmh / 3.6,
		PassSpeedSigma:  d.SpeedSDPercent / 100,
		DriveSpeedSigma: d.DriverSDPercent / 100,
		BorderMps:       or0(d.BorderKmh) / 3.6,
		HeadlandMps:     or0(d.HeadlandKmh) / 3.6,
		TurnMps:         or0(d.TurnKmh) / 3.6,
		AccelMps2:       or0(d.AccelMps2),
		DecelMps2:       or0(d.DecelMps2),
		StraightBeforeM: or0(d.StraightBeforeM),
		SteerSigmaM:     d.SteerSigmaCm / 100,
		Seed:            uint64(d.Seed),
	}
	return p
}
