// Package web is the page for a phone on a shelf beside the smoker: what is
// wrong, the slowest core, what to do next, and four buttons.
//
// It works without script: every form is an ordinary POST that ends in a
// redirect. With script it follows the stream of api and says "not live" when
// that is lost. Nothing comes from outside, and nothing is told by colour alone.
package web
