"""The mechanics: free arcs, the lift, one beat, the settled cycle; always for a batch of points."""
