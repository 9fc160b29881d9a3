// Package sweep runs many benches: every point of a grid of settings, with so
// many seeds at each, on all cores, with a journal from which an interrupted
// study goes on. What a bench is it leaves to its caller: numbers in, numbers
// out. The results hang on the plan alone, not on the number of workers, on
// interruptions, or on how the benches were divided among machines.
package sweep
