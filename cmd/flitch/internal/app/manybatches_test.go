package app

import (
	"net/http"
	"reflect"
	"testing"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

// The list keeps what it knows of closed batches, and what is said of one afterwards shows.
func TestTheListKnowsWhatIsSaidOfAClosedBatch(t *testing.T) {
	s := newShop(t)
	s.open()
	s.smallBatch()
	list := func() web.Summary {
		t.Helper()
		all, err := s.reader().Batches(t.Context())
		if err != nil || len(all) != 1 {
			t.Fatalf("%+v, %v", all, err)
		}
		return all[0]
	}
	first := list()
	if first.Closed.IsZero() || !reflect.DeepEqual(list(), first) {
		t.Fatalf("%+v, then %+v", first, list())
	}
	s.must(process.Command{Kind: process.CommandReviewed, Batch: first.ID, By: "M.O.", Text: "as it should be"})
	s.settle()
	if again := list(); first.Waits == again.Waits {
		t.Errorf("before the review %+v, after it %+v", first, again)
	}
	if status, _, _ := s.visitor().ask(http.MethodGet, "/", nil); status != http.StatusOK {
		t.Errorf("the page of the list: %d", status)
	}
}
