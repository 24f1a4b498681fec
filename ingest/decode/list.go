package decode

import "fmt"

// MaxReadings bounds the readings of one message. A logger that passes for vaccine
// keeps 4000 (common practice); own bound.
const MaxReadings = 4000

// ReadList takes the readings of a list out of the document, in their order. Those
// that cannot be used are told in refused, each with its place in the list; a list
// that cannot be read is one of them.
func (d *Document) ReadList(f *Field) (samples []Sample, refused []error) {
	root, err := d.json()
	if err != nil {
		return nil, []error{err}
	}
	list, err := f.each.findAll(root)
	if err != nil {
		return nil, []error{err}
	}
	if len(list) > MaxReadings {
		return nil, []error{problem(TooLarge, fmt.Sprintf("%d readings at %s: at most %d are read from one message", len(list), quoted(f.each.text), MaxReadings))}
	}
	samples = make([]Sample, 0, len(list))
	for i, element := range list {
		s, err := d.readFrom(f, element, theReading)
		if err == nil && s.TimeProblem != "" {
			err = problem(NoTime, s.TimeProblem)
		}
		if err != nil {
			refused = append(refused, problem(ClassOf(err), fmt.Sprintf("reading %d of %d: %v", i+1, len(list), err)))
			continue
		}
		s.Backfill = true
		samples = append(samples, s)
	}
	return samples, refused
}

// findAll returns the list that p points at; where its last step selects, all elements
// that it selects.
func (p *pointer) findAll(root any) ([]any, error) {
	list, some := *p, step{}
	if n := len(p.steps); n > 0 && p.steps[n-1].selects {
		list.steps, some = p.steps[:n-1], p.steps[n-1]
	}
	at, err := list.find(root, thePayload)
	if err != nil {
		return nil, err
	}
	all, ok := at.([]any)
	if !ok {
		where := "payload"
		if p.text != "" {
			where = quoted(p.text)
		}
		return nil, problem(NoValue, fmt.Sprintf("%s is no list: it %s", where, holds(at)))
	}
	if !some.selects {
		return all, nil
	}
	var chosen []any
	for _, e := range all {
		if some.matches(e) {
			chosen = append(chosen, e)
		}
	}
	return chosen, nil
}
