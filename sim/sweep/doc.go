// Package sweep runs a study: many benches, one for each point of a grid of
// settings and each seed, on all cores. A journal keeps every result, so that an
// interrupted study can be continued. The caller says what a bench does; to this
// package it is a function from numbers to numbers. The results depend only on
// the plan, not on the number of workers, on interruptions, or on how the
// benches are divided among machines.
package sweep
