package tools

import (
	"log/slog"
	"os"
	"testing"

	"github.com/prometheus/common/model"
	"github.com/prometheus/prometheus/config"
)

// The sample for a site is read by Prometheus itself: one job, which the rules know by name,
// the name of the site on everything, and what the rules and the dashboard need is written on.
func TestTheScrapeOfASiteIsWrittenOn(t *testing.T) {
	text, err := os.ReadFile("../prometheus/site.yml")
	if err != nil {
		t.Fatal(err)
	}
	c, err := config.Load(string(text), slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	jobs, err := c.GetScrapeConfigs()
	if err != nil || len(jobs) != 1 || jobs[0].JobName != "flitch" || jobs[0].MetricsPath != "/metrics" {
		t.Errorf("%+v, %v", jobs, err)
	}
	if c.GlobalConfig.ExternalLabels.Get("site") == "" || len(c.RemoteWriteConfigs) != 1 || c.RemoteWriteConfigs[0].URL.Scheme != "https" {
		t.Errorf("%v %+v", c.GlobalConfig.ExternalLabels, c.RemoteWriteConfigs)
	}
	keep := c.RemoteWriteConfigs[0].WriteRelabelConfigs
	if len(keep) != 1 || keep[0].SourceLabels[0] != model.MetricNameLabel {
		t.Fatalf("%+v", keep)
	}
	for _, name := range exposed(t) {
		if !keep[0].Regex.MatchString(name) {
			t.Errorf("%s is not written on", name)
		}
	}
}
