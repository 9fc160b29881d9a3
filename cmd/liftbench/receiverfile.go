// The receiver block of a scenario file.
package main

type receiverConfig struct {
	RateHz    float64 `key:"rate_hz" unit:"Hz" above:"0" max:"100" doc:"positions a second"`
	LatencyMs float64 `key:"latency_ms" unit:"ms" min:"0" max:"5000" doc:"from the instant of a position to its arrival"`
}

func defaultReceiver() receiverConfig       { return receiverConfig{RateHz: 10, LatencyMs: 100} }
func (s *scenarioConfig) checkDrive() error { return nil }
