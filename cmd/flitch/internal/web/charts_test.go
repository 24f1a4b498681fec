package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

func chartHouse() *house {
	h := sampleHouse()
	begun := night.Add(-50 * time.Hour)
	h.charts = Charts{Batch: "OL-31-09", Product: "Belly", From: begun, Drawings: []string{"cook"}, Stages: []ChartStage{
		{process.StageCure, begun, begun.Add(40 * time.Hour)}, {process.StageRinse, begun.Add(40 * time.Hour), begun.Add(40 * time.Hour)},
		{process.StageSmoke, begun.Add(40 * time.Hour), begun.Add(42 * time.Hour)}, {process.StageSmoke, begun.Add(43 * time.Hour), time.Time{}}}}
	return h
}

func TestEachPartOfTheBatchIsALink(t *testing.T) {
	for path, want := range map[string]struct{ chosen, picture string }{
		"/batches/OL-31-09/chart":                                        {"whole batch", "chart.svg?width=344"},
		"/batches/OL-31-09/chart?stage=1":                                {"cure", "chart.svg?width=344&amp;from=2026-11-16T00:31:00Z&amp;to=2026-11-17T16:31:00Z"},
		"/batches/OL-31-09/chart?stage=4":                                {"smoke (2)", "chart.svg?width=344&amp;from=2026-11-17T19:31:00Z"},
		"/batches/OL-31-09/chart?hours=6":                                {"last 6 hours", "chart.svg?width=344&amp;hours=6"},
		"/batches/OL-31-09/chart?stage=2":                                {"whole batch", "chart.svg?width=344"}, // passed by
		"/batches/OL-31-09/chart?stage=x":                                {"whole batch", "chart.svg?width=344"},
		"/batches/OL-31-09/chart?hours=" + url.QueryEscape(`"><script>`): {"whole batch", "chart.svg?width=344"},
	} {
		w := get(t, chartHouse().page(t, record.Site{}), path)
		body := w.Body.String()
		if w.Code != http.StatusOK || !strings.Contains(body, `aria-current="page">`+want.chosen+"</a>") || !strings.Contains(body, `<img src="/batches/OL-31-09/`+want.picture+`"`) {
			t.Errorf("%s: %d, want %s and %s in %s", path, w.Code, want.chosen, want.picture, body)
		}
		if wrong := strings.Contains(body, "no such part"); wrong != (want.chosen == "whole batch" && strings.Contains(path, "=")) {
			t.Errorf("%s: says no such part: %v", path, wrong)
		}
		if strings.Contains(body, ">rinse<") || strings.Contains(body, `"><script>`) {
			t.Errorf("%s: a stage that was passed by, or what was typed, is on the page", path)
		}
	}
}

func TestAClosedBatchHasNoLastHours(t *testing.T) {
	h := chartHouse()
	h.charts.To, h.charts.Stages[3].To = night, night
	body := get(t, h.page(t, record.Site{}), "/batches/OL-31-09/chart").Body.String()
	if strings.Contains(body, "last 6 hours") || strings.Contains(body, "data-follows") {
		t.Error("a closed batch is followed")
	}
}

func TestTheChartsOfNoBatch(t *testing.T) {
	if w := get(t, chartHouse().page(t, record.Site{}), "/batches/OL-99/chart"); w.Code != http.StatusNotFound || !strings.Contains(w.Body.String(), "OL-99") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	h := chartHouse()
	h.fault = http.ErrHandlerTimeout
	if w := get(t, h.page(t, record.Site{}), "/batches/OL-31-09/chart"); w.Code != http.StatusInternalServerError {
		t.Errorf("%d", w.Code)
	}
}

// The page runs no inline script and has no inline style, and asks only for our files.
func TestTheChartsNeedNothingFromOutside(t *testing.T) {
	body := get(t, chartHouse().page(t, record.Site{}), "/batches/OL-31-09/chart").Body.String()
	if strings.Contains(body, "style=") || regexp.MustCompile(`<script(>| [^>]*>[^<])`).MatchString(body) || regexp.MustCompile(` on[a-z]+=`).MatchString(body) {
		t.Error("inline style or script")
	}
	for _, m := range regexp.MustCompile(`(?:src|href|srcset)="([^"]*)"`).FindAllStringSubmatch(body, -1) {
		if !strings.HasPrefix(m[1], "/") {
			t.Errorf("%s is not ours", m[1])
		}
	}
}
