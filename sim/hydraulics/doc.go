// Package hydraulics simulates the lift of each section: it takes setpoints and
// gives tool heights and actual work states. A single-acting cylinder lifts
// each section with oil from the tractor's pump; weight and a spring lower it.
// Every speed is constant between two events (a valve moves, a tool reaches the
// end of its stroke, another section starts or stops rising, the oil gets
// warmer), so a Bank computes from event to event and needs no time step.
package hydraulics
