package sections

import (
	"fmt"
	"strings"
	"testing"
)

// The major number is the one that Restore compares.
func TestStateVersion(t *testing.T) {
	if want := fmt.Sprintf("%d.", savedVersion); !strings.HasPrefix(StateVersion, want) || strings.Count(StateVersion, ".") != 2 {
		t.Errorf("version %s; the state says %d", StateVersion, savedVersion)
	}
}
