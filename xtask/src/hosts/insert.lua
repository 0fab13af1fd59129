-- A new session with Brunt on a bus that carries noise: set a parameter, roll, save.
local dir = arg[1]
local backend = AudioEngine:set_backend("None (Dummy)", "", "")
assert(not backend:isnil(), "no dummy backend")
backend:set_device_name("Uniform White Noise")
assert(create_session(dir, "brunt", 48000), "no session")
local order = ARDOUR.PresentationInfo.max_order
local flag = ARDOUR.PresentationInfo.Flag.AudioBus
local bus = Session:new_audio_route(2, 2, nil, 1, "Mix", flag, order):front()
for c = 0, 1 do
  assert(bus:input():audio(c):connect("system:capture_" .. (c + 1)) == 0, "no input")
end
local plugin = ARDOUR.LuaAPI.new_plugin(Session, "Brunt", ARDOUR.PluginType.VST3, "")
assert(not plugin:isnil(), "Brunt is not known")
print("brunt: known")
assert(bus:add_processor_by_index(plugin, 0, nil, true) == 0, "cannot be inserted")
print("brunt: inserted")
-- The fourth parameter: "Watch from", dB.
assert(ARDOUR.LuaAPI.set_processor_param(bus:nth_plugin(0), 3, 0.3), "cannot be set")
Session:request_roll(ARDOUR.TransportRequestSource.TRS_UI)
ARDOUR.LuaAPI.usleep(4000000)
assert(Session:transport_sample() > 48000, "does not roll")
print("brunt: rolled")
Session:request_stop(false, false, ARDOUR.TransportRequestSource.TRS_UI)
ARDOUR.LuaAPI.usleep(500000)
Session:save_state("")
print("brunt: saved")
close_session()
