// Package tune finds the value of a setting at which drives cost least, with
// an interval, from what each of several drives costs at several values. The
// drives meet the same chances at every value (common random numbers), so that
// differences between values are those of the setting.
package tune
