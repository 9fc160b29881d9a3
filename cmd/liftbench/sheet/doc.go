// Package sheet makes the set-up sheet that check prints: clearance, times, straight
// run, oil, headland and warnings.
package sheet
