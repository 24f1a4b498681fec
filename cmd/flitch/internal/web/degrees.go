package web

import (
	"context"
	"net/http"

	"flitch/process/record"
)

// degreesCookie keeps in which unit a person wants temperatures: "C" or "F". Without it
// they are shown as the configuration says.
const degreesCookie = "degrees"

type degreesKey struct{}

// Degrees notes in the context of each request the unit its browser has chosen.
func Degrees(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if c, err := r.Cookie(degreesCookie); err == nil && (c.Value == "C" || c.Value == "F") {
			r = r.WithContext(context.WithValue(r.Context(), degreesKey{}, c.Value))
		}
		next.ServeHTTP(w, r)
	})
}

// For is the site as the one who asks wants its numbers.
func For(ctx context.Context, site record.Site) record.Site {
	if unit, chosen := ctx.Value(degreesKey{}).(string); chosen {
		site.Fahrenheit = unit == "F"
	}
	return site
}

// chooseDegrees keeps the choice in the browser; nothing of the house changes.
func (s *server) chooseDegrees(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if unit := r.PostFormValue("degrees"); unit == "C" || unit == "F" {
		http.SetCookie(w, &http.Cookie{Name: degreesCookie, Value: unit, Path: "/", MaxAge: 365 * 24 * 3600, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	}
	http.Redirect(w, r, ours(r.PostFormValue("back")), http.StatusSeeOther)
}
