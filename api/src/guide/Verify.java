// java Verify.java SECRET ID TIMESTAMP SIGNATURES < BODY   ends with 0 if the message is to be believed
import java.security.MessageDigest;
import java.util.Base64;
import javax.crypto.Mac;
import javax.crypto.spec.SecretKeySpec;
import static java.nio.charset.StandardCharsets.US_ASCII;

public class Verify {
    static boolean isOurs(String secret, String id, String timestamp, String signatures, byte[] body) throws Exception {
        if (!timestamp.matches("[0-9]{1,15}")) return false;
        if (Math.abs(System.currentTimeMillis() / 1000 - Long.parseLong(timestamp)) > 300) return false; // recorded
        byte[] key = Base64.getDecoder().decode(secret.replaceFirst("^whsec_", ""));
        Mac mac = Mac.getInstance("HmacSHA256");
        mac.init(new SecretKeySpec(key, "HmacSHA256"));
        mac.update((id + "." + timestamp + ".").getBytes(US_ASCII));
        byte[] wanted = ("v1," + Base64.getEncoder().encodeToString(mac.doFinal(body))).getBytes(US_ASCII); // bytes as they came
        boolean found = false;
        for (String given : signatures.split(" ")) found |= MessageDigest.isEqual(given.getBytes(US_ASCII), wanted);
        return found;
    }

    public static void main(String[] told) throws Exception {
        System.exit(isOurs(told[0], told[1], told[2], told[3], System.in.readAllBytes()) ? 0 : 1);
    }
}
