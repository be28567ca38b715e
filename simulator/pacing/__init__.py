"""The pacing room: rules for power along a course. Rules only; no physics, no rides."""
