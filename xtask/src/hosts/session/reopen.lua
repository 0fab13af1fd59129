-- The session again, under one of its names: saved under another one, and its beginning exported.
-- Arguments: the session's folder; its name; the name to save under, of the export, too; the length to
-- export, s.
local dir, name, other, length_s = arg[1], arg[2], arg[3], tonumber(arg[4])
AudioEngine:set_backend("None (Dummy)", "", ""):set_device_name("Silence")
assert(load_session(dir, name), "no session")
print("brunt: reopened")
Session:save_state(other)
local export = Session:simple_export()
export:set_name(other)
export:set_folder(dir .. "/export")
export:set_range(0, length_s * 48000)
assert(export:set_preset("6c0b1f4e-6f0c-4b8e-9f0a-b1f1f0a7c001"), "no preset")
assert(export:check_outputs(), "no outputs")
assert(export:run_export(), "no export")
print("brunt: exported")
print("brunt: saved " .. other)
close_session()
