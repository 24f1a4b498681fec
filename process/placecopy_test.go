package process

import (
	"encoding/json"
	"fmt"
	"reflect"
	"testing"
	"time"
)

// A place in which everything is there that can be there is copied whole, and the copy has
// nothing in common with it: also what is added to a place later has to be copied.
func TestACopyOfAPlaceIsWholeAndItsOwn(t *testing.T) {
	p := new(Place)
	filled := 0
	fillIn(reflect.ValueOf(p).Elem(), &filled)
	if filled < 100 {
		t.Fatalf("only %d values were filled in", filled)
	}
	c := p.Copy()
	want, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := json.Marshal(c); err != nil || string(got) != string(want) {
		t.Errorf("the copy is %s\nof %s, %v", got, want, err)
	}
	for _, path := range shared("place", reflect.ValueOf(p).Elem(), reflect.ValueOf(c).Elem()) {
		t.Errorf("%s is one thing in both", path)
	}
}

// The walk finds what a shallow copy shares, else the test above could not fail.
func TestAShallowCopyOfAPlaceIsFound(t *testing.T) {
	p := new(Place)
	fillIn(reflect.ValueOf(p).Elem(), new(int))
	c := *p
	if found := shared("place", reflect.ValueOf(p).Elem(), reflect.ValueOf(&c).Elem()); len(found) < 2 {
		t.Errorf("shared is only %v", found)
	}
}

// fillIn sets every exported value below v, two of each list.
func fillIn(v reflect.Value, n *int) {
	if !v.CanSet() {
		return
	}
	*n++
	if v.Type() == reflect.TypeFor[time.Time]() {
		v.Set(reflect.ValueOf(time.Unix(int64(*n), 0).UTC()))
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			fillIn(v.Field(i), n)
		}
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fillIn(v.Elem(), n)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fallthrough
	case reflect.Array:
		for i := range v.Len() {
			fillIn(v.Index(i), n)
		}
	case reflect.String:
		v.SetString(fmt.Sprint("t", *n))
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Float64, reflect.Float32:
		v.SetFloat(float64(*n))
	default:
		if v.CanInt() {
			v.SetInt(int64(*n % 100))
		} else if v.CanUint() {
			v.SetUint(uint64(*n % 100))
		} else {
			panic("a place has a " + v.Kind().String() + ": copy it, and fill it in here")
		}
	}
}

// shared lists what both have in one place of the memory.
func shared(path string, a, b reflect.Value) (found []string) {
	if a.Type() == reflect.TypeFor[time.Time]() { // its zone is one for all, and is never changed
		return nil
	}
	switch a.Kind() {
	case reflect.Struct:
		for i := range a.NumField() {
			found = append(found, shared(path+"."+a.Type().Field(i).Name, a.Field(i), b.Field(i))...)
		}
	case reflect.Pointer, reflect.Slice:
		if a.IsNil() {
			return nil
		}
		if a.Pointer() == b.Pointer() {
			return []string{path}
		}
		if a.Kind() == reflect.Pointer {
			return shared(path, a.Elem(), b.Elem())
		}
		fallthrough
	case reflect.Array:
		for i := range a.Len() {
			found = append(found, shared(fmt.Sprintf("%s[%d]", path, i), a.Index(i), b.Index(i))...)
		}
	case reflect.Map, reflect.Interface, reflect.Func, reflect.Chan:
		found = append(found, path+" is a "+a.Kind().String())
	}
	return found
}
