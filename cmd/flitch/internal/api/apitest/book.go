// Package apitest holds what the door says against its own description. Only tests import it.
package apitest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/getkin/kin-openapi/openapi3"
)

// A Book is the description, read.
type Book struct {
	doc *openapi3.T
	mux *http.ServeMux // finds the operation of a request as the door does
}

// Read reads a description and holds it against the rules of OpenAPI 3.1, with its
// examples.
func Read(text []byte) (*Book, error) {
	loader := openapi3.NewLoader()
	doc, err := loader.LoadFromData(text)
	if err != nil {
		return nil, fmt.Errorf("openapi.yaml: %w", err)
	}
	if err := doc.Validate(context.Background(), openapi3.EnableExamplesValidation()); err != nil {
		return nil, fmt.Errorf("openapi.yaml: %w", err)
	}
	b := &Book{doc: doc, mux: http.NewServeMux()}
	for _, pattern := range b.Routes() {
		b.mux.Handle(pattern, http.NotFoundHandler())
	}
	return b, nil
}

// Routes are all operations, written as for a http.ServeMux.
func (b *Book) Routes() []string {
	var all []string
	for path, item := range b.doc.Paths.Map() {
		for method := range item.Operations() {
			all = append(all, method+" "+path)
		}
	}
	slices.Sort(all)
	return all
}

// operation finds what a pattern of Routes stands for.
func (b *Book) operation(pattern string) *openapi3.Operation {
	method, path, _ := strings.Cut(pattern, " ")
	if item := b.doc.Paths.Value(path); item != nil {
		return item.GetOperation(method)
	}
	return nil
}

// Answer says where an answer is not as it is described. What is in no route has to be
// refused with a Refusal under /api/, and is somebody else's elsewhere.
func (b *Book) Answer(r *http.Request, status int, header http.Header, body []byte) error {
	_, pattern := b.mux.Handler(r)
	op := b.operation(pattern)
	if op == nil {
		if !strings.HasPrefix(r.URL.Path, "/api/") {
			return nil
		}
		return b.fits(b.doc.Components.Schemas["Refusal"], body)
	}
	said := op.Responses.Value(strconv.Itoa(status))
	if said == nil {
		return fmt.Errorf("%s answers %d, which openapi.yaml does not have: %.200s", pattern, status, body)
	}
	kind, _, err := mime.ParseMediaType(header.Get("Content-Type"))
	if err != nil {
		return fmt.Errorf("%s answers %d without a kind: %w", pattern, status, err)
	}
	content := said.Value.Content[kind]
	if content == nil {
		return fmt.Errorf("%s answers %d with %s; openapi.yaml has %v", pattern, status, kind, slices.Collect(maps.Keys(said.Value.Content)))
	}
	if kind != "application/json" {
		return nil
	}
	if err := b.fits(content.Schema, body); err != nil {
		return fmt.Errorf("%s answers %d, not as openapi.yaml has it: %w\n%.600s", pattern, status, err, body)
	}
	return nil
}

// Open reports whether a pattern is for everybody, signed in or not.
func (b *Book) Open(pattern string) bool {
	op := b.operation(pattern)
	return op != nil && op.Security != nil && len(*op.Security) == 0
}

// Body says where the body of a request is not as it is described.
func (b *Book) Body(pattern string, body []byte) error {
	op := b.operation(pattern)
	if op == nil || op.RequestBody == nil {
		return fmt.Errorf("%s has no body in openapi.yaml", pattern)
	}
	return b.fits(op.RequestBody.Value.Content["application/json"].Schema, body)
}

// Examples are the bodies that openapi.yaml shows for a pattern, by name.
func (b *Book) Examples(pattern string) (map[string][]byte, error) {
	op := b.operation(pattern)
	if op == nil || op.RequestBody == nil {
		return nil, fmt.Errorf("%s has no body in openapi.yaml", pattern)
	}
	all := map[string][]byte{}
	for name, one := range op.RequestBody.Value.Content["application/json"].Examples {
		text, err := json.Marshal(one.Value.Value)
		if err != nil {
			return nil, err
		}
		all[name] = text
	}
	return all, nil
}

// Fields are the fields of a schema and which of them are always there; nil: there is no
// such schema.
func (b *Book) Fields(schema string) (fields, always []string) {
	s := b.doc.Components.Schemas[schema]
	if s == nil {
		return nil, nil
	}
	return slices.Sorted(maps.Keys(s.Value.Properties)), s.Value.Required
}

// Of is the schema that a field of another refers to, through lists and maps; empty:
// none.
func (b *Book) Of(schema, field string) string {
	ref := b.doc.Components.Schemas[schema].Value.Properties[field]
	for ref != nil && ref.Ref == "" {
		switch v := ref.Value; {
		case v.Items != nil:
			ref = v.Items
		case v.AdditionalProperties.Schema != nil:
			ref = v.AdditionalProperties.Schema
		case len(v.OneOf) > 0:
			ref = v.OneOf[0]
		default:
			return ""
		}
	}
	if ref == nil {
		return ""
	}
	return ref.Ref[strings.LastIndex(ref.Ref, "/")+1:]
}

func (b *Book) fits(schema *openapi3.SchemaRef, body []byte) error {
	var v any
	if err := json.Unmarshal(body, &v); err != nil {
		return fmt.Errorf("it is no JSON: %w", err)
	}
	return short(schema.Value.VisitJSON(v, openapi3.EnableJSONSchema2020(), openapi3.EnableFormatValidation(), openapi3.MultiErrors()))
}

// short says where and what, without the schema and the value in full.
func short(err error) error {
	if many, ok := errors.AsType[openapi3.MultiError](err); ok {
		var all []error
		for _, one := range many {
			all = append(all, short(one))
		}
		return errors.Join(all...)
	}
	if one, ok := errors.AsType[*openapi3.SchemaError](err); ok {
		return fmt.Errorf("at /%s: %s", strings.Join(one.JSONPointer(), "/"), one.Reason)
	}
	return err
}
