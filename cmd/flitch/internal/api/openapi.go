package api

import (
	_ "embed"
	"net/http"
)

//go:embed openapi.yaml
var openAPI []byte

// described serves the description of all that is served (OpenAPI 3.1).
func (s *server) described(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/yaml")
	w.Header().Set("Cache-Control", "no-cache")
	w.Write(openAPI) // the other side may be gone; nobody is left to be told
}
