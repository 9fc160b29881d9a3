// Package study runs many drives: sweep over a plan of settings, and tune for the
// setting of least cost.
package study
