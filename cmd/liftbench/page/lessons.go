// Ready-made lessons: the setting from which each starts. The page computes a lesson
// as it computes any other setting, in compute.go; pagelessons_test.go checks what
// each lesson says.

package page

import "liftbench/cmd/liftbench/web"

var Lessons = []web.Lesson{
	{
		Key: "late-lift", Title: "Why a late lift grows with speed",
		Text: [3]string{
			"Without a lead every lift is late by the time that valve and cylinder need, at any speed the same.",
			"In that time the tool goes on by speed × time, so twice the speed hoes twice as far into the headland.",
			"Turn the speed and watch centimetres grow while milliseconds stay; then set the lead to auto.",
		},
		Set: map[string]any{"lift_lead_ms": 0.0}, Turn: []string{"speed_kmh", "lift_lead_ms"}, Watch: "lift.place_error",
	},
	{
		Key: "time-or-distance", Title: "Time or distance: two causes told apart",
		Text: [3]string{
			"At one speed a late command and a wrong measure look alike: here both are at work on every lift and drop.",
			"Over speed they part: a timing error is the slope of the line e = Δx + v·Δt, a geometry error its height at standstill.",
			"Set the told latency right and the line goes flat; set the antenna right and it comes down to zero.",
		},
		Set: map[string]any{"latency_ms": 250.0, "antenna_wrong_cm": 20.0}, Turn: []string{"latency_told_ms", "antenna_wrong_cm"}, Watch: "fit",
	},
	{
		Key: "one-or-twelve", Title: "One section or twelve at a slanting headland",
		Text: [3]string{
			"A section lifts as a whole, so at a slant of α each section of width w leaves a triangle hoed too far and one not hoed.",
			"With the even rule both together are w²·tan α ∕ 4 for each section and crossing.",
			"Half the width is a quarter of the area for twice as many sections: half in all.",
		},
		Set: map[string]any{"headland_deg": 30.0, "section_m": 6.0}, Turn: []string{"section_m", "headland_deg", "edge_rule"}, Watch: "area",
	},
	{
		Key: "whole-bar", Title: "The whole bar at once, and the pump",
		Text: [3]string{
			"At a square headland all sections lift together and share the oil of one pump.",
			"A lead made for one section alone is then too short, and the less the pump gives the later all of them are.",
			"Turn the pump flow, then let the lead count the sections that move at once.",
		},
		Set: map[string]any{"headland_deg": 0.0, "section_m": 1.0, "pump_l_min": 15.0, "flow_aware": false}, Turn: []string{"pump_l_min", "flow_aware"}, Watch: "lift.time_error",
	},
	{
		Key: "cold-morning", Title: "Cold morning",
		Text: [3]string{
			"The drop lead was set on a warm afternoon; cold oil passes hose and orifice more slowly.",
			"Weight and spring alone press it out, so the drop gets later while the lift, pushed by the pump, hardly does.",
			"Turn the oil temperature and see the strip left unhoed behind each border grow.",
		},
		Set: map[string]any{"lift_lead_ms": 135.0, "drop_lead_ms": 730.0, "oil_c": 0.0}, Turn: []string{"oil_c", "drop_lead_ms"}, Watch: "drop.time_error",
	},
	{
		Key: "one-or-ten-hertz", Title: "1 Hz against 10 Hz",
		Text: [3]string{
			"The controller carries the motion on between two positions, so on a steady straight even 1 Hz does no harm.",
			"What it cannot know is a change since the last one: with noise and braking the guess reaches a second ahead and errs more.",
			"Turn the rate and watch the worst drop rather than the mean.",
		},
		Set: map[string]any{"rate_hz": 1.0}, Turn: []string{"rate_hz", "noise_cm"}, Watch: "drop.place_error",
	},
	{
		Key: "antenna-30", Title: "The antenna measured 30 cm wrong",
		Text: [3]string{
			"The controller believes the antenna 30 cm too far ahead, so it takes every tool to be 30 cm farther back than it is.",
			"Every lift and every drop comes 30 cm late, at a crawl as at full speed: no lead can mend that.",
			"Turn the speed and see the centimetres stay; then measure again.",
		},
		Set: map[string]any{"antenna_wrong_cm": 30.0}, Turn: []string{"speed_kmh", "antenna_wrong_cm"}, Watch: "lift.place_error",
	},
	{
		Key: "headland-rows", Title: "Headland rows and body rows",
		Text: [3]string{
			"The headland has rows of its own, across those of the body: hoeing one along the other cuts off the crop.",
			"A zone takes part only while the machine follows its rows, so the same border lifts for the body and drops for the headland.",
			"Switch the headland's rows on: both are worked, and next to nothing is hoed across the rows.",
		},
		Set: map[string]any{"work_headland": false}, Turn: []string{"work_headland", "headland_deg"}, Watch: "area",
	},
}
