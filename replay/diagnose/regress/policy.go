// How sure is sure enough.

package regress

const (
	// Alpha is the probability with which chance alone may show any cause at all.
	Alpha = 0.02
	// Power is the one-sided 95 % quantile of the normal distribution: a size that many
	// standard errors above a threshold is found above it in 95 % of drives.
	Power = 1.645
)
