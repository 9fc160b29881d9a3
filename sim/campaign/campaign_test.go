package campaign_test

import (
	"fmt"
	"testing"

	"liftbench/sim/campaign"
)

func TestTimes(t *testing.T) {
	for value, want := range map[string]int{"": 40, "ci": 400, "full": 2000} {
		t.Setenv("LIFTBENCH_CAMPAIGN", value)
		if got := campaign.Times(40, 400, 2000); got != want {
			t.Errorf("%q: %d times, want %d", value, got, want)
		}
		if got := campaign.Full(); got != (value == "full") {
			t.Errorf("%q: full %v", value, got)
		}
	}
	t.Setenv("LIFTBENCH_CAMPAIGN", "ful")
	defer func() {
		if told := fmt.Sprint(recover()); told != "LIFTBENCH_CAMPAIGN=ful; expected ci or full" {
			t.Errorf("told %q", told)
		}
	}()
	campaign.Times(40, 400, 2000)
}
