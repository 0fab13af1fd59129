-- The session again: is the parameter where it was left? Save under another name.
local dir = arg[1]
local backend = AudioEngine:set_backend("None (Dummy)", "", "")
backend:set_device_name("Uniform White Noise")
assert(load_session(dir, "brunt"), "no session")
local plugin = Session:route_by_name("Mix"):nth_plugin(0)
assert(not plugin:isnil(), "Brunt is gone")
print("brunt: reopened")
local value = ARDOUR.LuaAPI.get_processor_param(plugin, 3, false)
assert(math.abs(value - 0.3) < 1e-6, "Watch from: " .. value)
print("brunt: parameter kept")
Session:save_state("again")
print("brunt: saved again")
close_session()
