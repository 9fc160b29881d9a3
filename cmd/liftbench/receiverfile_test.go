// The receiver's block of a scenario, from its keys to the score.

package main

import (
	"io"
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/sections/score"
)

// demoWith returns the demo with a receiver block of its own.
func demoWith(t testing.TB, receiver string) (*settings.Scenario, *settings.Machine) {
	t.Helper()
	before, after, _ := strings.Cut(demoText(t, "scenario.yaml"), "receiver:")
	_, after, _ = strings.Cut(after, "\n\n")
	files := map[string]string{
		"scenario.yaml": before + receiver + "\n" + after,
		"machine.yaml":  demoText(t, "machine.yaml"),
	}
	s, m, err := settings.LoadScenario("scenario.yaml", settings.Named(func(path, _ string) ([]byte, error) { return []byte(files[path]), nil }), "")
	if err != nil {
		t.Fatal(err)
	}
	return s, m
}

// A preset fills the keys that the file leaves out, wherever it stands among
// those that replace its values.
func TestReceiverPresets(t *testing.T) {
	for _, c := range []struct {
		text string
		want func(*settings.Receiver)
		kind string
	}{
		{"", func(*settings.Receiver) {}, settings.RtkFixed},
		{"receiver: {noise_cm: 2.5}", func(r *settings.Receiver) { r.NoiseCm = 2.5 }, settings.RtkFixed},
		{"receiver: {preset: sbas}", func(*settings.Receiver) {}, settings.Sbas},
		{"receiver: {preset: rtk-float, white_share: 0}", func(r *settings.Receiver) { r.WhiteShare = 0 }, settings.RtkFloat},
		{"receiver: {quality: 8, rate_hz: 1, preset: standalone}", func(r *settings.Receiver) { r.Quality, r.RateHz = 8, 1 }, settings.Standalone},
	} {
		want := settings.PresetReceiver(c.kind)
		c.want(&want)
		s, _ := demoWith(t, c.text)
		if !reflect.DeepEqual(s.Receiver, want) {
			t.Errorf("%q:\n got %+v\nwant %+v", c.text, s.Receiver, want)
		}
	}
}

// What 95 % of the horizontal errors are within, by the figure that a preset
// is taken from: σ·√(-2·ln 0.05).
func TestPresetAccuracy(t *testing.T) {
	for kind, wantM := range map[string]float64{settings.Sbas: 1, settings.Standalone: 8} {
		r := settings.PresetReceiver(kind)
		if got := r.NoiseCm / 100 * math.Sqrt(-2*math.Log(0.05)); math.Abs(got-wantM) > 0.05*wantM {
			t.Errorf("%s: 95 %% within %.2f m; want %g", kind, got, wantM)
		}
	}
	if r := settings.PresetReceiver(settings.RtkFixed); math.Abs(r.NoiseCm-1.43) > 0.05 {
		t.Errorf("RTK: %g cm; Carballido et al. found 1.43", r.NoiseCm)
	}
}

// A setting that is written reads back as it was.
func TestWrittenReceiver(t *testing.T) {
	for _, text := range []string{
		"receiver: {preset: sbas}",
		"receiver: {preset: standalone, noise_cm: 1.4, rate_hz: 5}",
		"receiver: {floats_per_h: 6, float_correlation_s: 0, outage_reckoned_s: 3, minute_digits: 5, stamp: unix, clock_ahead_ms: -20}",
	} {
		s, m := demoWith(t, text)
		u := &settings.Setup{Title: "x", Scenario: s, Machine: m}
		written := u.SettingText("field.geojson")
		again, _, err := settings.LoadScenario("again.yaml", settings.Named(func(string, string) ([]byte, error) { return written, nil }), "")
		if err != nil {
			t.Fatalf("%v in\n%s", err, written)
		}
		if !reflect.DeepEqual(again.Receiver, s.Receiver) {
			t.Errorf("%s\n got %+v\nwant %+v", written, again.Receiver, s.Receiver)
		}
	}
}

func TestReceiverWarnings(t *testing.T) {
	const none = "controller.flow_aware counts them. Before anyone" // the demo's own warning alone
	for _, c := range []struct{ name, receiver, want string }{
		{"nothing", "{minute_digits: 5}", none},
		{"coarse", "{minute_digits: 4}", "Positions with 4 decimals of a minute come in steps of 18.5 cm; a receiver for this work writes 7 or more."},
		{"jitter unheard", "{jitter_ms: 40}", "receiver.jitter_ms changes nothing without arrival times: receiver.stamp is none."},
		{"clock unheard", "{clock_ahead_ms: 40}", "receiver.clock_ahead_ms changes nothing without arrival times: receiver.stamp is none."},
		{"clock heard", "{clock_ahead_ms: 40, stamp: unix}", none},
		{"carried on in vain", "{outages_per_h: 3, outage_reckoned_s: 5}", "Positions carried on in an outage (quality 6) do not count: controller.min_quality is 1."},
		{"carried on", "{outages_per_h: 3, outage_reckoned_s: 5}\ncontroller: {min_quality: 6}", none},
		{"latency", "{latency_ms: 200}", "The controller takes fixes as 100 ms old, the receiver's are 200 ms"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Chdir(t.TempDir())
			if err := settings.WriteDemo("."); err != nil {
				t.Fatal(err)
			}
			before, after, _ := strings.Cut(demoText(t, "scenario.yaml"), "receiver:")
			_, after, _ = strings.Cut(after, "\n\n")
			if err := os.WriteFile("scenario.yaml", []byte(before+"receiver: "+c.receiver+"\n"+after), 0o644); err != nil {
				t.Fatal(err)
			}
			status, stdout, stderr := command("", "check", "scenario.yaml")
			if status != 0 {
				t.Fatal(stderr)
			}
			got := strings.Join(strings.Fields(stdout[strings.Index(stdout, "Warnings"):]), " ")
			if !strings.Contains(got, c.want) {
				t.Errorf("no %q in %s", c.want, got)
			}
		})
	}
}

// A worse receiver makes worse work: 95 % of the places, and what is lost.
func TestReceiverErrorsReachTheScore(t *testing.T) {
	p95 := func(receiver string) (cm float64, o *run.Outcome) {
		u, err := new(settings.Selection).Load()
		if err != nil {
			t.Fatal(err)
		}
		u.Scenario, u.Machine = demoWith(t, receiver)
		if o, err = run.Drive(u, nil, io.Discard, false); err != nil {
			t.Fatal(err)
		}
		var off []float64
		for i := range o.Score.Events {
			if e := &o.Score.Events[i]; e.Kind == score.Paired {
				off = append(off, 100*math.Abs(e.PlaceErrorM))
			}
		}
		slices.Sort(off)
		return off[(len(off)*95+99)/100-1], o
	}
	sound, _ := p95("receiver: {noise_cm: 1.4}")
	for _, c := range []struct {
		name, receiver string
		leastCm        float64
	}{
		{"coarse digits", "receiver: {minute_digits: 4}", 2 * sound},
		{"steps", "receiver: {floats_per_h: 120, float_s: 2, refix_step_cm: 20}", 3 * sound},
		{"clock", "receiver: {stamp: unix, clock_ahead_ms: 100}", 22},
		{"standalone", "receiver: {preset: standalone}", 20 * sound},
	} {
		if got, _ := p95(c.receiver); got < c.leastCm {
			t.Errorf("%s: 95 %% within %.1f cm; want %.1f at least, beside %.1f", c.name, got, c.leastCm, sound)
		}
	}
	if _, o := p95("receiver: {outages_per_h: 30, outage_s: 20}"); o.Controller.FailSafe == 0 {
		t.Error("outages of 20 s reach no fail-safe")
	}
	if _, o := p95("receiver: {lost_share: 0.2}"); o.Reception.Epochs > 24500 || o.Reception.Epochs < 22500 {
		t.Errorf("%d epochs of 29312; a fifth was to be lost", o.Reception.Epochs)
	}
}
