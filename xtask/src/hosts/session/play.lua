-- The session from its start to its end, in real time, as a user plays it; then saved.
-- Arguments: the session's folder; its length, s.
local dir, length_s = arg[1], tonumber(arg[2])
AudioEngine:set_backend("None (Dummy)", "", ""):set_device_name("Silence")
assert(load_session(dir, "brunt"), "no session")
Session:goto_start()
ARDOUR.LuaAPI.usleep(1000000)
Session:request_roll(ARDOUR.TransportRequestSource.TRS_UI)
local waited = 0
while Session:transport_sample() < length_s * 48000 and waited < 3 * length_s do
  ARDOUR.LuaAPI.usleep(500000)
  waited = waited + 0.5
end
assert(Session:transport_sample() >= length_s * 48000, "does not roll to the end")
Session:request_stop(false, false, ARDOUR.TransportRequestSource.TRS_UI)
print("brunt: played " .. length_s .. " s")
-- The mix reads the parts in the background.
ARDOUR.LuaAPI.usleep(8000000)
Session:save_state("")
print("brunt: saved")
close_session()
