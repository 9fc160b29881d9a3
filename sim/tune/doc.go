// Package tune finds the value of a setting at which the mean cost of several
// drives is lowest, with a confidence interval. It compares what each drive
// costs at several values. A drive has the same random events at every value
// (common random numbers), so that only the setting makes the costs differ.
package tune
