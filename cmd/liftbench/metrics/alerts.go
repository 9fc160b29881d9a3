// The alerting rules that go with the metrics: alerts.yaml beside this file, which
// `liftbench live --write-alerts FILE` writes.

package metrics

import _ "embed"

// Alerts is a file of alerting rules on the metrics, for Prometheus: lateness
// and lost position.
//
//go:embed alerts.yaml
var Alerts []byte
