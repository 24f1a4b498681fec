package sweep

import (
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// ownWays change something and are no forms of the page: the interface, and links in messages.
var ownWays = []string{"/a/{token}"}

// Every form that the page takes has its row, and what a row says of itself is true.
func TestNoFormIsForgotten(t *testing.T) {
	ways := routes(t, http.MethodPost)
	for _, way := range ways {
		if strings.HasPrefix(way, "/api/") || slices.Contains(ownWays, way) {
			continue
		}
		if !slices.ContainsFunc(table, func(r row) bool { return r.matches(way) }) {
			t.Errorf("POST %s has no row in table_test.go", way)
		}
	}
	for _, r := range table {
		taken := strings.HasPrefix(r.action, "script:") || slices.ContainsFunc(append(ways, routes(t, http.MethodGet)...), r.matchesWay)
		if !taken {
			t.Errorf("nothing takes %s any more", r.action)
		}
		if r.apart != "" {
			if _, err := os.Stat(filepath.Join("..", "..", "..", "..", r.apart)); err != nil {
				t.Errorf("%s: %v", r.action, err)
			}
		}
	}
}
