// Package hydraulics moves the tools: setpoints in, tool heights and actual
// work states out. A single-acting cylinder lifts each section with oil from
// the tractor's pump; weight and spring lower it. Between two events (a valve
// opens, a tool reaches its end, a neighbour starts or stops) every speed is
// constant, so a Bank goes from event to event and has no time step.
package hydraulics
