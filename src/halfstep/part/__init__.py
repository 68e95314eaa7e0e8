"""What one player reads: the transposed part of an etude, a lead sheet, a take on a staff.

`transposed_part` moves an analysis and its etudes into written pitch, `lead_sheet` does so
with a sheet, `places` says where each chord begins as the player counts it.
"""
