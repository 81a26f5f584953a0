package digest

// Own is what a browser uses.
var Own = own
